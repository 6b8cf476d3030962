"""Nothing is lost and nothing is done twice when a worker is killed, frozen or drained in a step of a job."""

from __future__ import annotations

import signal
import time
from pathlib import Path
from typing import Any

import pytest

from tests.service.conftest import DATABASES, empty_database
from tests.service.paused_worker import STEPS, program
from tests.service.running import FAST, Server, start_worker, statuses_of, wait_for, wait_for_plan


@pytest.fixture(scope="module", params=DATABASES)
def server(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    url = empty_database(request.param, request, f"faults_{request.param}")
    server = Server(url, tmp_path_factory.mktemp("faults") / "server.log", embedded_workers=0, **FAST)
    server.url = url  # type: ignore[attr-defined]
    yield server
    server.stop()


def test_a_worker_killed_in_any_step_loses_no_job_and_doubles_none(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the last step to the first, so that the worker that stops in one step has taken over, and made, all
    that the one before it left; an ordinary worker ends the last job. The first job is a plan, each other one plans the
    rest of the job from the one before it."""
    project = server.client.post("/projects", json=small_project).headers["Location"]
    plans: list[str] = []
    for step in reversed(STEPS):
        paused = tmp_path / f"paused in {step}"
        monkeypatch.setenv("PAUSED", str(paused))
        worker = start_worker(server.url, tmp_path / f"{step}.log", program(step), **FAST)
        _ended_once(server, project, plans)
        if plans:
            event = {"at": "2027-03-01T07:30", "event": "measured", "level": "L1", "id": f"killed in {step}"}
            server.client.post(f"{project}/events", json=[event]).raise_for_status()
        asked = f"{plans[-1]}/replans" if plans else f"{project}/plans"
        plans.append(server.client.post(asked).headers["Location"])
        wait_for(lambda paused=paused: paused.exists() or None, 120, f"the step {step}")  # type: ignore[misc]
        worker.kill()
    last = start_worker(server.url, tmp_path / "last.log", **FAST)
    _ended_once(server, project, plans)
    last.kill()


def _ended_once(server: Any, project: str, plans: list[str]) -> None:
    """The plans end as done, each once, and are their project's only ones; each holds what was on record."""
    ended = [wait_for_plan(server.client, location) for location in plans]
    for number, (location, plan) in enumerate(zip(plans, ended, strict=True)):
        assert plan["status"] == "done", plan["error"]
        assert statuses_of(server.client, location) == ["queued", "running", "done"]
        assert len(plan["plan"]["record"]["events"]) == number
    listed = server.client.get(f"{project}/plans").json()["items"]
    assert [item["id"] for item in listed] == [plan["id"] for plan in reversed(ended)]


def test_a_worker_that_was_only_frozen_does_no_harm_when_it_wakes(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    frozen = start_worker(server.url, tmp_path / "frozen.log", program("plan", 2), **FAST)
    wait_for(lambda: paused.exists() or None, 120, "the solver")
    frozen.process.send_signal(signal.SIGSTOP)
    other = start_worker(server.url, tmp_path / "other.log", **FAST)
    plan = wait_for_plan(server.client, location)
    assert plan["status"] == "done", plan["error"]
    frozen.process.send_signal(signal.SIGCONT)
    time.sleep(2.5)
    assert frozen.process.poll() is None
    assert server.client.get(location).json() == plan
    assert statuses_of(server.client, location).count("done") == 1
    frozen.kill()
    other.kill()


def test_a_worker_that_drains_leaves_its_unfinished_job_to_others(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    first = start_worker(server.url, tmp_path / "first.log", program("plan"), drain_seconds=1, **FAST)
    wait_for(lambda: paused.exists() or None, 120, "the solver")
    assert first.stop() == 0
    second = start_worker(server.url, tmp_path / "second.log", **FAST)
    assert wait_for_plan(server.client, location)["status"] == "done"
    second.kill()


def test_a_worker_that_drains_finishes_what_is_nearly_done(
    server: Any, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    project = server.client.post("/projects", json=small_project).headers["Location"]
    location = server.client.post(f"{project}/plans").headers["Location"]
    later = server.client.post(f"{project}/plans").headers["Location"]
    worker = start_worker(
        server.url, tmp_path / "w.log", program("check", 1), drain_seconds=20, jobs_at_once=1, **FAST
    )
    wait_for(lambda: paused.exists() or None, 120, "the check")
    assert worker.stop() == 0
    assert server.client.get(location).json()["status"] == "done"
    assert server.client.get(later).json()["status"] == "queued"
    server.client.delete(later)
