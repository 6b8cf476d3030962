"""`python -m benchmarks.faults [--runs 50] [--first 1] [--seed 1] [--database postgresql|sqlite] [--only WORD]`.

What faults leave. Each run asks a server and two workers for four plans, an order at once under an Idempotency-Key,
and an issued order. Meanwhile it kills a worker in a chosen step or at a random moment, or freezes it; kills the
server in mid-request or while it issues, or sets its clock forward or back; kills the database, fills its disk, or
has a standby take over; restores a backup elsewhere and goes on there; or floods the service with half-sent requests
and downloads. Then it counts what was asked for against what is there: a job is lost when it does not end as done,
doubled when it ended twice or stands there twice, an order is half issued when its revision, its chain or its log
line lacks the others, and wrongly dated when its date is not between the run's beginning and end, or is before the
last revision's. Recovery is the time from the fault until everything had ended. Linux; filling a disk needs root, for
a tmpfs.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console
from rich.table import Table

from benchmarks.standby import Standby
from tests.service.paused_worker import STEPS, program
from tests.service.postgresql import PostgreSQL
from tests.service.running import ROOT, Running, Server, environment, start_workers, stop_all, wait_for

FAST = {"poll_seconds": 0.05, "heartbeat_seconds": 0.5, "dead_after_seconds": 3, "rate_per_minute": 0}
PLANS = 4
DISK_MEGABYTES = 3000
PATIENCE_SECONDS = 600  # a machine that is busy otherwise is no fault of the service


@dataclass
class Outcome:
    """What one kind of fault did over its runs."""

    runs: int = 0
    injected: int = 0
    jobs: int = 0
    jobs_lost: int = 0
    duplicates: int = 0
    half_issued: int = 0
    wrongly_dated: int = 0
    recovery_seconds: list[float] = field(default_factory=list)


class Place:
    """A server and two workers on a database, all of which may be killed and started again."""

    def __init__(self, database: str, folder: Path) -> None:
        self.folder, self.started = folder, 0
        self.clock = folder / "clock"
        with _temporary_files_in(folder):
            self.postgresql = PostgreSQL() if database == "postgresql" else None
        self.url = self.new_url()
        self.server = self.new_server()
        self.workers = start_workers(self.url, folder, 2, **self.settings())

    def new_url(self) -> str:
        """An empty database's."""
        self.started += 1
        name = f"faults_{self.started}"
        return self.postgresql.url(name) if self.postgresql else f"sqlite:///{self.folder}/{name}.sqlite"

    def settings(self) -> dict[str, Any]:
        """Those of every process; the anchor and its key stand beside the database."""
        name = self.url.rpartition("/")[2].partition(".")[0]
        files = {
            "anchor_file": self.folder / f"{name}.anchor",
            "signing_key_file": self.folder / f"{name}.key",
        }
        return {**FAST, **files, "disk_megabytes": 1}

    def new_server(self) -> Server:
        """A server on the database; a killed one's clients must reconnect."""
        self.started += 1
        return Server(
            self.url,
            self.folder / f"server-{self.started}.log",
            module="benchmarks.set_clock",
            variables={"SET_CLOCK": str(self.clock)},
            embedded_workers=0,
            **self.settings(),
        )

    def new_worker(self, program: str | None = None, **variables: str) -> Running:
        """A worker; its program may stop in a chosen step."""
        self.started += 1
        env = {**environment(self.url, **self.settings()), **variables}
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
        self.said = ""
        self.killed_at, self.began = 0.0, datetime.now(UTC).timestamp()

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
        deadline = time.monotonic() + PATIENCE_SECONDS
        while True:
            try:
                answer = self.place.server.client.request(method, path, headers=headers, **more)
                if answer.status_code < 500 and answer.status_code != 429:
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
        location = self.ask()  # before: in some steps the worker holds the database's lock
        worker = self.place.new_worker(program(step), PAUSED=str(paused))
        wait_for(lambda: paused.exists() or None, PATIENCE_SECONDS, f"the step {step}")
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

    def fail_database_over(self) -> str:
        """A standby takes the killed database's place within the second after the jobs were asked for."""
        assert self.place.postgresql is not None
        standby = Standby(self.place.postgresql)
        location = self.ask()
        time.sleep(self.chance.uniform(0, 1.0))
        self.killed_at = time.monotonic()
        standby.take_over()
        return location

    def freeze_worker(self) -> str:
        """One of two workers is stopped, taken for dead, and wakes while its jobs are others' already."""
        location = self.ask()
        time.sleep(self.chance.uniform(0, 1.0))
        worker = self.chance.choice(self.place.workers)
        self.killed_at = time.monotonic()
        worker.process.send_signal(signal.SIGSTOP)
        time.sleep(self.chance.uniform(FAST["dead_after_seconds"], 2 * FAST["dead_after_seconds"]))
        worker.process.send_signal(signal.SIGCONT)
        return location

    def fill_disk(self) -> str:
        """The disk of the database and of all other files is full for a while."""
        location = self.ask()
        time.sleep(self.chance.uniform(0, 0.5))
        self.killed_at = time.monotonic()
        filler = self.place.folder / "filler"
        filled = os.open(filler, os.O_CREAT | os.O_WRONLY)
        block = b"x" * 2**20
        with contextlib.suppress(OSError):
            while True:
                os.write(filled, block)
        with contextlib.suppress(OSError):
            while True:
                os.write(filled, b"x" * 4096)
        os.close(filled)
        time.sleep(self.chance.uniform(1.0, 4.0))
        with contextlib.suppress(httpx.TransportError):
            self.said = f", /readyz said {self.place.server.client.get('/readyz').status_code} meanwhile"
        filler.unlink()
        database = self.place.postgresql
        if (
            database is not None and database.process.poll() is not None
        ):  # it gives up where it cannot even recover
            database.start()
        return location

    def set_clock(self, seconds: float) -> str:
        """The server's clock is set while it is asked to issue, and set right again."""
        location = self.ask()
        self.wait(location)
        plan = self.plans_of(location)[1]["id"]
        self.killed_at = time.monotonic()
        self.place.clock.write_text(str(seconds))
        answers = [self.place.server.client.post(f"/plans/{plan}/issue") for _ in range(2)]
        self.place.clock.write_text("0")
        self.wrong_clock_issued = any(answer.status_code < 300 for answer in answers)
        return location

    def restore_elsewhere(self) -> str:
        """A backup is made while jobs run, everything stops, and work goes on from the backup in a new place."""
        place = self.place
        location = self.ask()
        time.sleep(self.chance.uniform(0, 1.0))
        backup = place.folder / f"backup-{self.number}"
        _command(place, "backup", str(backup))
        self.killed_at = time.monotonic()
        for process in (*place.workers, place.server):
            process.kill()
        place.url = place.new_url()
        _command(place, "restore", str(backup))
        backup.unlink()
        place.server = place.new_server()
        place.workers = [place.new_worker() for _ in range(2)]
        return location

    def overload(self) -> str:
        """Half-sent requests, a body without an end and thirty downloads at once, while the jobs are asked for."""
        port, slow = self.place.server.port, []
        head = b"POST /projects HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900000\r\n"
        for number in range(300):
            with contextlib.suppress(OSError):
                one = socket.create_connection(("127.0.0.1", port), 5)
                one.sendall(head + (b"\r\n{" if number % 3 == 0 else b""))
                slow.append(one)
        self.killed_at = time.monotonic()
        location = self.ask()
        self.wait(location)
        plan = self.plans_of(location)[0]["id"]
        with ThreadPoolExecutor(30) as threads:
            sheets = [threads.submit(self.send, "GET", f"/plans/{plan}/order.pdf") for _ in range(30)]
            assert self.place.server.client.get("/healthz").elapsed.total_seconds() < 5
            assert {sheet.result().status_code for sheet in sheets} == {200}
        for one in slow:
            one.close()
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
        """Until every plan has ended, ten minutes at most: beyond, what has not ended counts as lost."""
        deadline = time.monotonic() + PATIENCE_SECONDS
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
        dates = [datetime.fromisoformat(one["issued_at"]).timestamp() for one in orders["items"]]
        good = all(self.began - 60 < date < datetime.now(UTC).timestamp() + 60 for date in dates)
        outcome.wrongly_dated += not (good and dates == sorted(dates)) or getattr(
            self, "wrong_clock_issued", False
        )
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
    "database failed over to a standby": Run.fail_database_over,
    "worker frozen": Run.freeze_worker,
    "disk full": Run.fill_disk,
    "clock set forward": lambda run: run.set_clock(run.chance.uniform(3600, 400 * 86400)),
    "clock set back": lambda run: run.set_clock(-run.chance.uniform(3600, 400 * 86400)),
    "restored elsewhere": Run.restore_elsewhere,
    "overload": Run.overload,
}


def _command(place: Place, *arguments: str) -> None:
    program = "from optimiser.commands.main import main; main()"
    subprocess.run(
        [sys.executable, "-c", program, *arguments],
        env=environment(place.url, **place.settings()),
        check=True,
        stdout=subprocess.DEVNULL,
    )


@contextlib.contextmanager
def _temporary_files_in(folder: Path) -> Iterator[None]:
    before, tempfile.tempdir = tempfile.tempdir, str(folder)
    try:
        yield
    finally:
        tempfile.tempdir = before


@contextlib.contextmanager
def _disk_of_our_own() -> Iterator[tuple[Path, bool]]:
    """A folder on a disk that may be filled; and whether it is one, for which a tmpfs must be mounted."""
    folder = Path(tempfile.mkdtemp(prefix="barrier-orders-faults-"))
    folder.chmod(0o711)  # the database's user passes through
    options = ["-t", "tmpfs", "-o", f"size={DISK_MEGABYTES}m,mode=711", "tmpfs", str(folder)]
    mounted = subprocess.run(["mount", *options], stderr=subprocess.DEVNULL).returncode == 0
    try:
        yield folder, mounted
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(folder)], check=False)
        shutil.rmtree(folder, ignore_errors=True)


def measure(
    runs: int, first: int, seed: int, database: str, only: str, tell: Callable[[str], None]
) -> dict[str, Outcome]:
    """The outcomes by kind of fault; the kinds take turns. An interrupt ends it with what was found until then."""
    faults = {
        name: fault
        for name, fault in FAULTS.items()
        if (database == "postgresql" or "database" not in name) and only in name
    }
    project = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
    outcomes: dict[str, Outcome] = defaultdict(Outcome)
    with _disk_of_our_own() as (folder, mounted):
        if not mounted:
            tell("no disk of our own can be mounted here: none is filled")
            faults.pop("disk full", None)
        place = Place(database, folder)
        try:
            for number in range(first - 1, first - 1 + runs):
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
                tell(f"{number + 1}/{first - 1 + runs} {name}: {outcome.recovery_seconds[-1]} s{run.said}")
        except KeyboardInterrupt:
            tell("interrupted: these are the outcomes until then")
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
    headings = (
        "fault",
        "runs",
        "injected",
        "jobs",
        "lost",
        "doubled",
        "half issued",
        "wrongly dated",
        "recovery s",
    )
    for heading in headings:
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
            "wrongly_dated",
            "recovery_seconds",
        ):
            setattr(total, figure, getattr(total, figure) + getattr(one, figure))
    table.add_section()
    table.add_row("all", *_cells(total))
    return table


def _cells(one: Outcome) -> list[str]:
    times = sorted(one.recovery_seconds)
    recovery = f"{times[len(times) // 2]:.1f} (at most {times[-1]:.1f})" if times else ""
    figures = (
        *(one.runs, one.injected, one.jobs, one.jobs_lost, one.duplicates),
        *(one.half_issued, one.wrongly_dated),
    )
    return [*(str(figure) for figure in figures), recovery]


def main(arguments: list[str] | None = None) -> int:
    """Runs the faults: 0 when nothing was lost, doubled, half issued or wrongly dated."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.faults", description="Kills and counts.")
    parser.add_argument("--runs", type=int, default=50)
    parser.add_argument(
        "--first", type=int, default=1, help="the number of the first run, to go on where one ended"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--database", choices=("postgresql", "sqlite"), default="postgresql")
    parser.add_argument("--only", default="", metavar="WORD", help="only faults whose name has it")
    parser.add_argument("--results", type=Path, metavar="FILE", help="where the figures are written as JSON")
    options = parser.parse_args(arguments)
    console = Console(width=130)
    outcomes = measure(
        options.runs,
        options.first,
        options.seed,
        options.database,
        options.only,
        lambda line: print(line, file=sys.stderr, flush=True),
    )
    title = f"Faults on {options.database} with two workers: {options.runs} runs, seed {options.seed}"
    console.print(table_of(outcomes, title))
    if options.results:
        options.results.write_text(
            json.dumps({name: asdict(one) for name, one in outcomes.items()}, indent=1)
        )
    bad = sum(
        one.jobs_lost + one.duplicates + one.half_issued + one.wrongly_dated for one in outcomes.values()
    )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
