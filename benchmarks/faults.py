"""`python -m benchmarks.faults [--runs 50] [--seed 1] [--database postgresql|sqlite]`: kill -9, and what is left.

Each run asks a server and two workers for four plans, an order at once under an Idempotency-Key, and an issued
order; meanwhile it kills a worker in a chosen step or at a random moment, the server in mid-request or while
it issues, or the database. Then it counts what was asked for against what is there: a job is lost when it does
not end as done, doubled when it ended twice or stands there twice, an order is half issued when its revision,
its chain or its log line lacks the others. Recovery is the time from the kill until everything had ended.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console
from rich.table import Table

from tests.service.paused_worker import STEPS, program
from tests.service.postgresql import PostgreSQL
from tests.service.running import ROOT, Running, Server, environment, start_workers, stop_all, wait_for

FAST = {"poll_seconds": 0.05, "heartbeat_seconds": 0.5, "dead_after_seconds": 3, "rate_per_minute": 0}
PLANS = 4


@dataclass
class Outcome:
    """What one kind of fault did over its runs."""

    runs: int = 0
    injected: int = 0
    jobs: int = 0
    jobs_lost: int = 0
    duplicates: int = 0
    half_issued: int = 0
    recovery_seconds: list[float] = field(default_factory=list)


class Place:
    """A server and two workers on a database, all of which may be killed and started again."""

    def __init__(self, database: str, folder: Path) -> None:
        self.folder, self.started = folder, 0
        self.postgresql = PostgreSQL() if database == "postgresql" else None
        self.url = self.postgresql.url("faults") if self.postgresql else f"sqlite:///{folder}/faults.sqlite"
        self.server = self.new_server()
        self.workers = start_workers(self.url, folder, 2, **FAST)

    def new_server(self) -> Server:
        """A server on the database; a killed one's clients must reconnect."""
        self.started += 1
        return Server(self.url, self.folder / f"server-{self.started}.log", embedded_workers=0, **FAST)

    def new_worker(self, program: str | None = None, **variables: str) -> Running:
        """A worker; its program may stop in a chosen step."""
        self.started += 1
        env = {**environment(self.url, **FAST), **variables}
        worker = Running(program or WORKER, self.folder / f"worker-{self.started}.log", env)
        worker.started("worker_started")
        return worker

    def close(self) -> None:
        """Stops everything."""
        stop_all(self.workers)
        self.server.stop()
        if self.postgresql:
            self.postgresql.close()


WORKER = "from api.serving import worker; worker()"


class Run:
    """One run: asks, injects its fault, waits, counts."""

    def __init__(self, place: Place, chance: random.Random, project: dict[str, Any], number: int) -> None:
        self.place, self.chance, self.project, self.number = place, chance, project, number
        self.killed_at = 0.0

    def ask(self, after: Callable[[], None] | None = None) -> str:
        """Keeps a project and queues its plans: where the project is."""
        location = self.send("POST", "/projects", json=self.project).headers["Location"]
        for plan in range(PLANS):
            self.send("POST", f"{location}/plans", json={"seed": plan})
            if after and plan == PLANS // 2:
                after()
        return location

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        """A request that is repeated under its key until it is answered, as a careful client does."""
        headers = {"Idempotency-Key": f"run-{self.number}-{self.chance.getrandbits(64):x}"}
        deadline = time.monotonic() + 60
        while True:
            try:
                answer = self.place.server.client.request(method, path, headers=headers, **more)
                if answer.status_code < 500:
                    return answer
            except httpx.TransportError:
                pass
            if time.monotonic() > deadline:
                raise AssertionError(f"{method} {path} was never answered")
            time.sleep(0.1)

    def kill_worker_in(self, step: str) -> str:
        """A third worker takes a job, stops in the step, and is killed there."""
        paused = self.place.folder / f"paused-{self.number}"
        for worker in self.place.workers:
            worker.stop()
        worker = self.place.new_worker(program(step), PAUSED=str(paused))
        location = self.ask()
        wait_for(lambda: paused.exists() or None, 60, f"the step {step}")
        self.kill(worker)
        self.place.workers = [self.place.new_worker() for _ in range(2)]
        return location

    def kill_worker_at_random(self) -> str:
        """One of two working workers is killed within the second after the jobs were asked for."""
        location = self.ask()
        time.sleep(self.chance.uniform(0, 1.0))
        place = self.chance.randrange(2)
        self.kill(self.place.workers[place])
        self.place.workers[place] = self.place.new_worker()
        return location

    def kill_server_in_request(self) -> str:
        """The server is killed while it plans at once; the client repeats its request."""
        location = self.ask()
        with ThreadPoolExecutor(1) as thread:
            asked = thread.submit(self.send, "POST", "/order-schedules", json=self.project)
            time.sleep(self.chance.uniform(0, 0.8))
            self.kill_server()
            self.extra = asked.result().headers["Location"]
        return location

    def kill_server_in_issue(self) -> str:
        """The server is killed while it issues an order; the client repeats its request."""
        location = self.ask()
        plan = self.plans_of(location)[0]["id"]
        self.wait(location)
        with ThreadPoolExecutor(1) as thread:
            asked = thread.submit(self.send, "POST", f"/plans/{plan}/issue")
            time.sleep(self.chance.uniform(0, 0.3))
            self.kill_server()
            asked.result()
        return location

    def kill_database(self) -> str:
        """Every process of the database is killed within the second after the jobs were asked for."""
        assert self.place.postgresql is not None
        location = self.ask()
        time.sleep(self.chance.uniform(0, 1.0))
        self.killed_at = time.monotonic()
        self.place.postgresql.kill()
        time.sleep(self.chance.uniform(0, 2.0))
        self.place.postgresql.start()
        return location

    def kill(self, process: Running) -> None:
        self.killed_at = time.monotonic()
        process.kill()

    def kill_server(self) -> None:
        self.kill(self.place.server)
        self.place.server = self.place.new_server()

    def plans_of(self, location: str) -> list[dict[str, Any]]:
        answer = self.send("GET", f"{location}/plans").raise_for_status()
        items: list[dict[str, Any]] = answer.json()["items"]
        return items

    def wait(self, location: str) -> None:
        """Until every plan has ended, two minutes at most."""
        deadline = time.monotonic() + 120
        while time.monotonic() < deadline:
            if all(plan["status"] not in ("queued", "running") for plan in self.plans_of(location)):
                return
            time.sleep(0.1)

    def count(self, location: str, outcome: Outcome) -> None:
        """Counts what is there against what was asked for."""
        self.wait(location)
        outcome.recovery_seconds.append(round(time.monotonic() - self.killed_at, 2))
        plans = self.plans_of(location)
        outcome.jobs += PLANS
        outcome.jobs_lost += max(0, PLANS - len(plans)) + sum(plan["status"] != "done" for plan in plans)
        outcome.duplicates += max(0, len(plans) - PLANS)
        for plan in plans:
            text = self.send("GET", f"/plans/{plan['id']}/events").text
            outcome.duplicates += max(0, text.count('"status": "done"') - 1)
        issued = [self.send("POST", f"/plans/{plans[0]['id']}/issue").json() for _ in range(2)]
        orders = self.send("GET", f"{location}/orders").json()
        log = self.send("GET", f"{location}/changes", params={"limit": 200}).json()["items"]
        lines = [line for line in log if line["action"] == "issued"]
        whole = len(orders["items"]) == len(lines) == 1 and orders["chain_intact"] and issued[0] == issued[1]
        outcome.half_issued += not whole
        if hasattr(self, "extra"):
            outcome.jobs += 1
            plan = self.send("GET", self.extra).json()
            self.wait(f"/projects/{plan['project_id']}")
            outcome.jobs_lost += self.send("GET", self.extra).json()["status"] != "done"


FAULTS: dict[str, Callable[[Run], str]] = {
    **{
        f"worker killed in step '{step}'": (lambda run, step=step: run.kill_worker_in(step)) for step in STEPS
    },
    "worker killed at random": Run.kill_worker_at_random,
    "server killed in mid-request": Run.kill_server_in_request,
    "server killed while issuing": Run.kill_server_in_issue,
    "database killed": Run.kill_database,
}


def measure(runs: int, seed: int, database: str, tell: Callable[[str], None]) -> dict[str, Outcome]:
    """The outcomes by kind of fault; the kinds take turns."""
    faults = {
        name: fault for name, fault in FAULTS.items() if database == "postgresql" or "database" not in name
    }
    project = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
    outcomes: dict[str, Outcome] = defaultdict(Outcome)
    with tempfile.TemporaryDirectory() as folder:
        place = Place(database, Path(folder))
        try:
            for number in range(runs):
                name = list(faults)[number % len(faults)]
                run = Run(place, random.Random(f"{seed}-{number}"), project, number)
                outcome = outcomes[name]
                outcome.runs += 1
                projects = _count_of_projects(run)
                location = faults[name](run)
                outcome.injected += 1
                run.count(location, outcome)
                asked = 2 if hasattr(run, "extra") else 1
                outcome.duplicates += max(0, _count_of_projects(run) - projects - asked)
                tell(f"{number + 1}/{runs} {name}: {outcome.recovery_seconds[-1]} s")
        finally:
            place.close()
    return outcomes


def _count_of_projects(run: Run) -> int:
    count, after = 0, None
    while True:
        page = run.send(
            "GET", "/projects", params={"limit": 200, **({"after": after} if after else {})}
        ).json()
        count, after = count + len(page["items"]), page["next"]
        if after is None:
            return count


def table_of(outcomes: dict[str, Outcome], title: str) -> Table:
    """The outcomes as a table with their sum."""
    table = Table(title=title)
    for heading in ("fault", "runs", "injected", "jobs", "lost", "duplicates", "half issued", "recovery s"):
        table.add_column(heading, justify="left" if heading == "fault" else "right")
    total = Outcome()
    for name, one in outcomes.items():
        table.add_row(name, *_cells(one))
        for figure in (
            "runs",
            "injected",
            "jobs",
            "jobs_lost",
            "duplicates",
            "half_issued",
            "recovery_seconds",
        ):
            setattr(total, figure, getattr(total, figure) + getattr(one, figure))
    table.add_section()
    table.add_row("all", *_cells(total))
    return table


def _cells(one: Outcome) -> list[str]:
    times = sorted(one.recovery_seconds)
    recovery = f"{times[len(times) // 2]:.1f} (at most {times[-1]:.1f})" if times else ""
    figures = (one.runs, one.injected, one.jobs, one.jobs_lost, one.duplicates, one.half_issued)
    return [*(str(figure) for figure in figures), recovery]


def main(arguments: list[str] | None = None) -> int:
    """Runs the faults: 0 when nothing was lost, doubled or half issued."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.faults", description="Kills and counts.")
    parser.add_argument("--runs", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--database", choices=("postgresql", "sqlite"), default="postgresql")
    parser.add_argument("--results", type=Path, metavar="FILE", help="where the figures are written as JSON")
    options = parser.parse_args(arguments)
    console = Console(width=120)
    outcomes = measure(
        options.runs, options.seed, options.database, lambda line: print(line, file=sys.stderr, flush=True)
    )
    title = f"Faults on {options.database} with two workers: {options.runs} runs, seed {options.seed}"
    console.print(table_of(outcomes, title))
    if options.results:
        options.results.write_text(
            json.dumps({name: asdict(one) for name, one in outcomes.items()}, indent=1)
        )
    bad = sum(one.jobs_lost + one.duplicates + one.half_issued for one in outcomes.values())
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
