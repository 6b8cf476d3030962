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
from tests.service.running import FAST, Server, start_workers, statuses_of, stop_all, wait_for


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


@pytest.mark.parametrize("kind", DATABASES)
def test_events_outlive_the_server_being_killed_and_count_once_when_they_are_sent_again(
    kind: str, request: pytest.FixtureRequest, small_project: dict[str, Any], tmp_path: Path
) -> None:
    """What was answered for is on record after kill -9; a sender that was not answered sends all of it again."""
    url = empty_database(kind, request, f"killed_record_{kind}")
    server = Server(url, tmp_path / "1.log", embedded_workers=0)
    address = f"{server.client.post('/v1/projects', json=small_project).headers['Location']}/events"
    events = [
        {"at": "2027-03-01T07:30", "event": "cut", "piece": f"P-{n}", "id": f"phone-{n}"} for n in range(60)
    ]
    answered: list[str] = []

    def send() -> None:
        with contextlib.suppress(httpx.TransportError):
            for event in events:
                server.client.post(address, json=[event]).raise_for_status()
                answered.append(event["id"])

    thread = threading.Thread(target=send)
    thread.start()
    wait_for(lambda: len(answered) >= 5 or None, 60, "some answers")
    server.kill()
    thread.join()
    assert len(answered) < len(events)
    again = Server(url, tmp_path / "2.log", embedded_workers=0)
    kept = [item["id"] for item in again.client.get(address, params={"limit": 200}).json()["items"]]
    assert set(answered) <= set(kept)
    assert again.client.post(address, json=events).json()["events"] == len(events)
    items = again.client.get(address, params={"limit": 200}).json()["items"]
    assert [item["number"] for item in items] == list(range(len(events), 0, -1))
    assert len({item["id"] for item in items}) == len(events)
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
