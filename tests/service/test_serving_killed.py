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
def test_what_is_told_of_the_job_outlives_a_killed_server_and_counts_once_when_it_is_sent_again(
    kind: str, request: pytest.FixtureRequest, small_project: dict[str, Any], tmp_path: Path
) -> None:
    """Events, what was inspected, readings and photographs: what was answered for is there after kill -9; a sender that
    was not answered sends all of it again."""
    url = empty_database(kind, request, f"killed_record_{kind}")
    server = Server(url, tmp_path / "1.log", embedded_workers=0)
    project = server.client.post("/v1/projects", json=small_project).headers["Location"]
    gaps, rounds = small_project["gaps"], 30
    answered: list[str] = []

    def send_all(client: httpx.Client) -> None:
        for number in range(rounds):
            for event in (_event("cut", number), _event("inspected", number)):
                client.post(f"{project}/events", json=[event]).raise_for_status()
                answered.append(event["id"])
            reading = _reading(gaps[number % len(gaps)], number)
            client.post(f"{project}/readings", json=reading).raise_for_status()
            answered.append(reading["id"])
            picture = f"picture-{number}"
            client.put(f"{project}/photographs/{picture}", params=OF_A_JOINT, content=JPEG).raise_for_status()
            answered.append(picture)

    def send() -> None:
        with contextlib.suppress(httpx.TransportError):
            send_all(server.client)

    thread = threading.Thread(target=send)
    thread.start()
    wait_for(lambda: len(answered) >= 9 or None, 60, "some answers")
    server.kill()
    thread.join()
    assert len(answered) < 4 * rounds
    again = Server(url, tmp_path / "2.log", embedded_workers=0)
    assert set(answered) <= set(_kept(again.client, project))
    before = len(again.client.get(f"{project}/readings").json()["items"])
    send_all(again.client)
    kept = _kept(again.client, project)
    assert sorted(kept) == sorted(set(kept))
    assert len(kept) == 4 * rounds
    versions = [item["version"] for item in again.client.get(f"{project}/readings").json()["items"]]
    assert versions == list(range(2, rounds + 2)), f"a version each, {before} of them before the end"
    items = again.client.get(f"{project}/events", params={"limit": 200}).json()["items"]
    assert [item["number"] for item in items] == list(range(len(items), 0, -1))
    again.kill()


OF_A_JOINT = {"at": "2027-05-03T10:00:00", "what": "joint", "piece": "L1-N-003", "by": "crew 2"}
JPEG = b"\xff\xd8\xff\xe0" + b"an invented picture" * 20


def _event(what: str, number: int) -> dict[str, Any]:
    return {"at": "2027-03-01T07:30", "event": what, "piece": f"P-{number}", "id": f"phone-{what}-{number}"}


def _reading(gap: dict[str, Any], number: int) -> dict[str, Any]:
    read = {"run": gap["run"], "at_mm": gap["at_mm"], "gap_top_mm": gap["gap_mm"] + number % 3}
    return {"id": f"reading-{number}", "at": "2027-04-20T08:30:00", "by": "surveyor", "readings": [read]}


def _kept(client: httpx.Client, project: str) -> list[str]:
    """The senders' ids of all that is kept; the service's own events left out."""
    found: list[str] = []
    for what in ("events", "readings", "photographs"):
        items = client.get(f"{project}/{what}", params={"limit": 200}).json()["items"]
        found += [item["id"] for item in items if item.get("event") != "measured"]
    return found


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
