"""A plan's progress: every event once, in order, from where a client left off; and its cancellation."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.service.conftest import DATABASES, empty_database
from tests.service.paused_worker import program
from tests.service.running import POLL_SECONDS, Server, solvers_of, start_worker, wait_for, wait_for_plan


@pytest.fixture(scope="module", params=DATABASES)
def server(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """A server without workers: each test starts those that it needs, and stops them. The last stops the server."""
    url = empty_database(request.param, request, f"events_{request.param}")
    server = Server(
        url, tmp_path_factory.mktemp("events") / "server.log", embedded_workers=0, poll_seconds=POLL_SECONDS
    )
    server.url = url  # type: ignore[attr-defined]
    yield server
    server.stop()


def _events(text: str) -> list[tuple[int, str]]:
    """The id and the data of each event of a stream."""
    found = []
    for block in text.split("\n\n"):
        fields = dict(line.split(": ", 1) for line in block.splitlines() if not line.startswith(":"))
        if "id" in fields:
            found.append((int(fields["id"]), fields["data"]))
    return found


def _plan(client: httpx.Client, project: dict[str, Any]) -> str:
    kept = client.post("/projects", json=project).headers["Location"]
    location: str = client.post(f"{kept}/plans").headers["Location"]
    return location


def test_a_client_that_lost_its_connection_gets_what_it_missed(
    server: Server, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PAUSED", str(tmp_path / "paused"))
    location = _plan(server.client, small_project)
    worker = start_worker(server.url, tmp_path / "w.log", program("check", 1), poll_seconds=POLL_SECONDS)  # type: ignore[attr-defined]
    with server.client.stream("GET", f"{location}/events") as answer:
        assert answer.headers["Content-Type"].startswith("text/event-stream")
        seen = ""
        for part in answer.iter_text():
            seen += part
            if "running" in seen and seen.endswith("\n\n"):
                break
    first = _events(seen)
    last = first[-1][0]
    rest = _events(server.client.get(f"{location}/events", headers={"Last-Event-ID": str(last)}).text)
    numbers = [number for number, _ in first + rest]
    assert numbers == list(range(1, len(numbers) + 1))
    assert '"done"' in rest[-1][1]
    whole = _events(server.client.get(f"{location}/events").text)
    assert whole == first + rest
    ended = server.client.get(f"{location}/events", headers={"Last-Event-ID": str(numbers[-1])})
    assert ended.status_code == 204
    worker.kill()


def test_a_cancelled_plan_ends_its_solver_and_frees_its_worker(
    server: Server, small_project: dict[str, Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paused = tmp_path / "paused"
    monkeypatch.setenv("PAUSED", str(paused))
    location = _plan(server.client, small_project)
    worker = start_worker(server.url, tmp_path / "w.log", program("plan", 3600), poll_seconds=POLL_SECONDS)  # type: ignore[attr-defined]
    wait_for(lambda: paused.exists() or None, 120, "the solver")
    solvers = solvers_of(worker.process.pid)
    assert len(solvers) == 1
    assert server.client.delete(location).json()["status"] == "cancelled"
    wait_for(lambda: not solvers_of(worker.process.pid) or None, 120, "the end of the solver")
    assert server.client.get(location).json()["status"] == "cancelled"
    # The worker is free for the next job, and the stream has told the end.
    assert '"cancelled"' in server.client.get(f"{location}/events").text
    monkeypatch.delenv("PAUSED")
    worker.kill()
    other = start_worker(server.url, tmp_path / "other.log", poll_seconds=POLL_SECONDS)  # type: ignore[attr-defined]
    assert wait_for_plan(server.client, _plan(server.client, small_project))["status"] == "done"
    assert server.client.get(location).json()["status"] == "cancelled"
    other.kill()


def test_a_server_that_stops_ends_its_streams_at_once(server: Server, small_project: dict[str, Any]) -> None:
    location = _plan(server.client, small_project)  # no worker: it stays queued
    with server.client.stream("GET", f"{location}/events") as answer:
        parts = answer.iter_text()
        next(parts)
        server.process.terminate()
        for _ in parts:  # ends, though the plan has not
            pass
    assert server.process.wait(60) == 0
