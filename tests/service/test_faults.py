"""Nothing is lost and nothing is done twice when a process is killed: in each step of a job, in a request, in
the database."""

from __future__ import annotations

import json
import signal
import threading
import time
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.service.conftest import DATABASES, empty_database
from tests.service.paused_worker import STEPS, program
from tests.service.postgresql import PostgreSQL
from tests.service.running import Server, start_worker, start_workers, stop_all, wait_for, wait_for_plan

FAST = {"poll_seconds": 0.05, "heartbeat_seconds": 0.3, "dead_after_seconds": 2}


@pytest.fixture(scope="module", params=DATABASES)
def server(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    url = empty_database(request.param, request, f"faults_{request.param}")
    server = Server(url, tmp_path_factory.mktemp("faults") / "server.log", embedded_workers=0, **FAST)
    server.url = url  # type: ignore[attr-defined]
    yield server
    server.stop()


def ended_once(client: httpx.Client, location: str) -> list[str]:
    """The statuses that a plan's events tell; asserts that its events are numbered without a gap."""
    blocks = client.get(f"{location}/events").text.split("\n\n")
    fields = [dict(line.split(": ", 1) for line in block.splitlines() if ": " in line) for block in blocks]
    events = [
        (int(event["id"]), event["event"], json.loads(event["data"])) for event in fields if "id" in event
    ]
    assert [number for number, _, _ in events] == list(range(1, len(events) + 1))
    return [data["status"] for _, kind, data in events if kind == "status"]


@pytest.mark.parametrize("step", STEPS)
def test_a_worker_killed_in_any_step_loses_no_job_and_doubles_none(
    server: Any, step: str, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    first = start_worker(server.url, tmp_path / "first.log", program(step), **FAST)
    wait_for(lambda: paused.exists() or None, 20, f"the step {step}")
    first.kill()
    second = start_worker(server.url, tmp_path / "second.log", **FAST)
    plan = wait_for_plan(server.client, location)
    second.stop()
    assert plan["status"] == "done", plan["error"]
    statuses = ended_once(server.client, location)
    assert statuses[0] == "queued"
    assert statuses[-1] == "done"
    assert statuses.count("done") == 1
    # The step that was under way ran again; those before it did not.
    assert statuses.count("running") == (2 if step not in ("start", "finish", "plan", "check") else 1)
    listed = server.client.get(f"{project}/plans").json()["items"]
    assert [item["id"] for item in listed] == [plan["id"]]


def test_a_worker_that_was_only_frozen_does_no_harm_when_it_wakes(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    frozen = start_worker(server.url, tmp_path / "frozen.log", program("plan", 2), **FAST)
    wait_for(lambda: paused.exists() or None, 20, "the solver")
    frozen.process.send_signal(signal.SIGSTOP)
    other = start_worker(server.url, tmp_path / "other.log", **FAST)
    plan = wait_for_plan(server.client, location)
    assert plan["status"] == "done", plan["error"]
    frozen.process.send_signal(signal.SIGCONT)
    time.sleep(2.5)
    assert frozen.process.poll() is None
    assert server.client.get(location).json() == plan
    assert ended_once(server.client, location).count("done") == 1
    frozen.stop()
    other.stop()


def test_a_worker_that_drains_leaves_its_unfinished_job_to_others(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    first = start_worker(server.url, tmp_path / "first.log", program("plan"), drain_seconds=1, **FAST)
    wait_for(lambda: paused.exists() or None, 20, "the solver")
    assert first.stop() == 0
    second = start_worker(server.url, tmp_path / "second.log", **FAST)
    assert wait_for_plan(server.client, location)["status"] == "done"
    second.stop()


def test_a_worker_that_drains_finishes_what_is_nearly_done(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    later = server.client.post(f"{project}/plans").headers["Location"]
    worker = start_worker(server.url, tmp_path / "w.log", program("check", 1), drain_seconds=20, **FAST)
    wait_for(lambda: paused.exists() or None, 20, "the check")
    assert worker.stop(30) == 0
    assert server.client.get(location).json()["status"] == "done"
    assert server.client.get(later).json()["status"] == "queued"
    server.client.delete(later)


def test_a_server_killed_in_mid_request_leaves_nothing_half_made(
    request: pytest.FixtureRequest, small_project: dict[str, Any], tmp_path: Path
) -> None:
    """The plan of a request that died is not there; the same request under the same key makes it once."""
    for kind in DATABASES:
        url = empty_database(kind, request, f"killed_server_{kind}")
        key = {"Idempotency-Key": "the-order"}
        server = Server(url, tmp_path / f"{kind}-1.log", embedded_workers=0)

        def send(server: Server = server, key: dict[str, str] = key) -> None:
            try:
                server.client.post("/order-schedules", json=small_project, headers=key)
            except httpx.TransportError:
                return

        thread = threading.Thread(target=send)
        thread.start()
        time.sleep(0.1)
        server.kill()
        thread.join()
        server = Server(url, tmp_path / f"{kind}-2.log", embedded_workers=0)
        answers = [server.client.post("/order-schedules", json=small_project, headers=key) for _ in range(2)]
        assert [answer.status_code for answer in answers] == [200, 200]
        assert answers[0].headers["Location"] == answers[1].headers["Location"]
        assert len(server.client.get("/projects").json()["items"]) == 1
        server.stop()


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
        wait_for(lambda: server.client.get(plans[0]).json()["status"] != "queued" or None, 20, "a start")
        postgresql.kill()
        assert server.client.get(plans[0]).status_code == 503
        assert server.client.get("/readyz").status_code == 503
        assert server.client.get("/healthz").status_code == 200
        time.sleep(1)
        postgresql.start()
        for plan in plans:
            ended = wait_for(lambda plan=plan: _ended(server.client, plan), 60, plan)  # type: ignore[misc]
            assert ended == "done"
            assert ended_once(server.client, plan).count("done") == 1
        stop_all(workers)
        server.stop()
    finally:
        postgresql.close()


def _ended(client: httpx.Client, plan: str) -> str | None:
    answer = client.get(plan)
    status = answer.json()["status"] if answer.status_code == 200 else None
    return status if status in ("done", "failed", "cancelled") else None
