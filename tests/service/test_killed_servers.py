"""Nothing is lost and nothing is half made when the server is killed in mid-request, or the database."""

from __future__ import annotations

import contextlib
import threading
import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.service.conftest import DATABASES, empty_database
from tests.service.postgresql import PostgreSQL
from tests.service.running import Server, start_workers, statuses_of, stop_all, wait_for

FAST = {"poll_seconds": 0.05, "heartbeat_seconds": 0.3, "dead_after_seconds": 2}


@pytest.mark.parametrize("kind", DATABASES)
def test_a_server_killed_in_mid_request_leaves_nothing_half_made(
    kind: str, request: pytest.FixtureRequest, small_project: dict[str, Any], tmp_path: Path
) -> None:
    """The plan of a request that died is not there; the same request under the same key makes it once."""
    url = empty_database(kind, request, f"killed_server_{kind}")
    key = {"Idempotency-Key": "the-order"}
    server = Server(url, tmp_path / "1.log", embedded_workers=0)

    def send() -> None:
        with contextlib.suppress(httpx.TransportError):
            server.client.post("/order-schedules", json=small_project, headers=key)

    thread = threading.Thread(target=send)
    thread.start()
    time.sleep(0.05)
    server.kill()
    thread.join()
    again = Server(url, tmp_path / "2.log", embedded_workers=0)
    answers = [again.client.post("/order-schedules", json=small_project, headers=key) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert len(again.client.get("/projects").json()["items"]) == 1
    again.kill()


def test_jobs_outlive_the_database_being_killed(small_project: dict[str, Any], tmp_path: Path) -> None:
    """PostgreSQL is killed under two workers and started again: every job ends, once."""
    postgresql = PostgreSQL()
    try:
        url = postgresql.url("killed")
        server = Server(url, tmp_path / "server.log", embedded_workers=0, **FAST)
        project = server.client.post("/projects", json=small_project).headers["Location"]
        plans = [
            server.client.post(f"{project}/plans", json={"seed": n}).headers["Location"] for n in range(6)
        ]
        workers = start_workers(url, tmp_path, 2, **FAST)
        wait_for(lambda: server.client.get(plans[0]).json()["status"] != "queued" or None, 120, "a start")
        postgresql.kill()
        assert server.client.get(plans[0]).status_code == 503
        assert server.client.get("/readyz").status_code == 503
        assert server.client.get("/healthz").status_code == 200
        time.sleep(1)
        postgresql.start()
        for plan in plans:
            ended = wait_for(lambda plan=plan: _ended(server.client, plan), 120, plan)  # type: ignore[misc]
            assert ended == "done"
            assert statuses_of(server.client, plan).count("done") == 1
        stop_all(workers)
        server.stop()
    finally:
        postgresql.close()


def _ended(client: httpx.Client, plan: str) -> str | None:
    answer = client.get(plan)
    status = answer.json()["status"] if answer.status_code == 200 else None
    return status if status in ("done", "failed", "cancelled") else None
