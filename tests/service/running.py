"""Processes of the service as an operator starts them: a server, workers, and how to wait for what they do."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import httpx

from tests.service.forking import Forked, forking
from tests.service.postgresql import free_port

WORKER = "from api.serving import worker; worker()"
ROOT = Path(__file__).resolve().parents[2]
POLL_SECONDS = 0.25  # a worker that looks more often takes the tests' processor from them
# What a worker's end is noticed by, quickly.
FAST = {"poll_seconds": POLL_SECONDS, "heartbeat_seconds": 0.3, "dead_after_seconds": 2}


def environment(database_url: str, **settings: object) -> dict[str, str]:
    """The environment of a process on a database; settings by their lower-case names."""
    mine = {f"BARRIER_ORDERS_{name.upper()}": str(value) for name, value in settings.items()}
    return {**os.environ, "DATABASE_URL": database_url, "PYTHONPATH": str(ROOT), **mine}


class Running:
    """A process, its log, and its end; forked from one that has imported the service, or started afresh."""

    def __init__(self, program: str, log: Path, env: dict[str, str], *, afresh: bool = False) -> None:
        self.log = log
        log.touch()
        self.process = _started_afresh(program, log, env) if afresh else Forked(forking(), program, log, env)

    def kill(self) -> None:
        """kill -9."""
        self.process.kill()
        self.process.wait()

    def stop(self, seconds: float = 120) -> int:
        """SIGTERM, and the exit code."""
        if self.process.poll() is not None:
            return self.process.returncode
        self.process.send_signal(signal.SIGTERM)
        try:
            return self.process.wait(seconds)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise

    def started(self, words: str, seconds: float = 120) -> None:
        """Waits until the log has these words."""
        wait_for(lambda: words in self.log.read_text() or None, seconds, f"{words!r} in {self.log}")


def _started_afresh(program: str, log: Path, env: dict[str, str]) -> subprocess.Popen[bytes]:
    with log.open("ab") as file:
        return subprocess.Popen([sys.executable, "-c", program], env=env, stdout=file, stderr=file)


def start_worker(database_url: str, log: Path, program: str = WORKER, **settings: object) -> Running:
    """A worker that has begun to take jobs."""
    worker = Running(program, log, environment(database_url, **settings))
    worker.started("worker_started")
    return worker


def start_workers(database_url: str, logs: Path, count: int, **settings: object) -> list[Running]:
    """Several workers that have begun to take jobs; they start side by side."""
    env = environment(database_url, **{"poll_seconds": POLL_SECONDS, **settings})
    workers = [Running(WORKER, logs / f"worker-{number}.log", env) for number in range(1, count + 1)]
    for worker in workers:
        worker.started("worker_started")
    return workers


def stop_all(workers: list[Running]) -> None:
    """SIGTERM to all, then waits for each."""
    for worker in workers:
        worker.process.send_signal(signal.SIGTERM)
    for worker in workers:
        worker.stop()


class Server(Running):
    """`serve`, with a client of it."""

    def __init__(
        self,
        database_url: str,
        log: Path,
        *,
        afresh: bool = False,
        module: str = "api.serving",
        variables: Mapping[str, str] | None = None,
        **settings: object,
    ) -> None:
        self.port = free_port()
        program = f"from {module} import serve; serve(port={self.port})"
        env = {**environment(database_url, **settings), **(variables or {})}
        super().__init__(program, log, env, afresh=afresh)
        self.client = httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=60)
        self.wait_until_ready()

    def wait_until_ready(self) -> None:
        """Waits until it answers."""

        def ready() -> bool | None:
            if self.process.poll() is not None:
                raise AssertionError(f"the server ended: {self.log.read_text()[-2000:]}")
            try:
                return self.client.get("/healthz").status_code == 200 or None
            except httpx.TransportError:
                return None

        wait_for(ready, 120, "the server")


def wait_for(look: Callable[[], Any], seconds: float, what: str) -> Any:
    """What `look` returns, as soon as it is not None."""
    deadline, pause = time.monotonic() + seconds, 0.03
    while time.monotonic() < deadline:
        found = look()
        if found is not None:
            return found
        time.sleep(pause)
        pause = min(1.2 * pause, 0.15)  # looking takes the processor from what is waited for
    raise AssertionError(f"waited {seconds} s for {what}")


def wait_for_plan(client: Any, location: str, seconds: float = 120) -> dict[str, Any]:
    """A plan once it has ended."""

    def ended() -> dict[str, Any] | None:
        plan: dict[str, Any] = client.get(location).json()
        return plan if plan["status"] in ("done", "failed", "cancelled") else None

    found: dict[str, Any] = wait_for(ended, seconds, f"the end of {location}")
    return found


def statuses_of(client: Any, location: str) -> list[str]:
    """The statuses that an ended plan's events tell; asserts that they are numbered without a gap."""
    blocks = client.get(f"{location}/events").text.split("\n\n")
    fields = [dict(line.split(": ", 1) for line in block.splitlines() if ": " in line) for block in blocks]
    events = [
        (int(event["id"]), event["event"], json.loads(event["data"])) for event in fields if "id" in event
    ]
    assert [number for number, _, _ in events] == list(range(1, len(events) + 1))
    return [data["status"] for _, kind, data in events if kind == "status"]


def solvers_of(worker: int) -> list[int]:
    """The limited processes of a worker: children of the process that it forks them from."""
    found = []
    for child in _children(worker):
        found += _children(child)
    return found


def _children(process: int) -> list[int]:
    try:
        tasks = Path(f"/proc/{process}/task").iterdir()
        return [int(child) for task in tasks for child in (task / "children").read_text().split()]
    except FileNotFoundError:
        return []
