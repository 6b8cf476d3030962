"""`python -m benchmarks.load [--clients 50] [--seconds 20] [--database sqlite|postgresql] [--only load|attacks]`.

Clients on loopback plan the small sample again and again, each waiting for its plan before it asks again: at
once (`POST /order-schedules`, planned by one or two processes of the server) and in the background
(`POST /projects/{id}/plans`, watched until it is done, planned by one or two workers). Then plans are cancelled
while they are made, and the service is attacked (`benchmarks.attacks`). Clients, server and workers share this
machine's processors.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console
from rich.table import Table

from benchmarks.attacks import Attack, attacked
from tests.service.paused_worker import program
from tests.service.postgresql import PostgreSQL
from tests.service.running import ROOT, Server, solvers_of, start_worker, start_workers, stop_all, wait_for


@dataclass
class Measured:
    """One load: how long a client waited for its plan, and how many plans a second all had together."""

    way: str
    workers: int
    clients: int
    plans: int
    errors: int
    seconds: float
    p50_seconds: float
    p95_seconds: float
    plans_per_second: float


async def at_once(client: httpx.AsyncClient, project: dict[str, Any], kept: str) -> bool:
    """One plan in one request."""
    answer = await client.post("/order-schedules", json=project)
    return answer.status_code == 200 and bool(answer.json()["pieces"])


async def in_background(client: httpx.AsyncClient, project: dict[str, Any], kept: str) -> bool:
    """One plan queued, and its events read to the end."""
    answer = await client.post(f"{kept}/plans")
    if answer.status_code != 202:
        return False
    events = await client.get(f"{answer.headers['Location']}/events")
    return '"status": "done"' in events.text


Way = Callable[[httpx.AsyncClient, dict[str, Any], str], Awaitable[bool]]


async def load(address: str, way: Way, clients: int, seconds: float) -> tuple[list[float], int, float]:
    """The waiting times, the errors, and how long it all took."""
    project = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
    limits = httpx.Limits(max_connections=clients, max_keepalive_connections=clients)
    times: list[float] = []
    errors = 0
    async with httpx.AsyncClient(base_url=address, timeout=120, limits=limits) as client:
        kept = (await client.post("/projects", json=project)).headers["Location"]
        started = time.monotonic()

        async def one_client() -> None:
            nonlocal errors
            while time.monotonic() - started < seconds:
                asked = time.monotonic()
                try:
                    good = await way(client, project, kept)
                except httpx.HTTPError:
                    good = False
                times.append(time.monotonic() - asked)
                errors += not good

        await asyncio.gather(*(one_client() for _ in range(clients)))
        return sorted(times), errors, time.monotonic() - started


def measure(database: str, way: Way, workers: int, clients: int, seconds: float) -> Measured:
    """One load on a fresh server and database."""
    postgresql = PostgreSQL() if database == "postgresql" else None
    with tempfile.TemporaryDirectory() as folder:
        url = postgresql.url("load") if postgresql else f"sqlite:///{folder}/load.sqlite"
        settings = {"rate_per_minute": 0, "at_once_seconds": 60, "at_once_processes": workers}
        server = Server(url, Path(folder) / "server.log", embedded_workers=0, **settings)
        started = [] if way is at_once else start_workers(url, Path(folder), workers)
        try:
            times, errors, took = asyncio.run(load(str(server.client.base_url), way, clients, seconds))
        finally:
            stop_all(started)
            server.stop()
            if postgresql:
                postgresql.close()
    return Measured(
        way=way.__name__.replace("_", " "),
        workers=workers,
        clients=clients,
        plans=len(times) - errors,
        errors=errors,
        seconds=round(took, 1),
        p50_seconds=round(times[len(times) // 2], 2),
        p95_seconds=round(times[int(len(times) * 0.95)], 2),
        plans_per_second=round((len(times) - errors) / took, 2),
    )


def cancelling(database: str, times: int) -> list[float]:
    """Seconds from asking for a plan's cancellation until the process of its solver is gone."""
    postgresql = PostgreSQL() if database == "postgresql" else None
    measured = []
    with tempfile.TemporaryDirectory() as folder:
        url = postgresql.url("cancelling") if postgresql else f"sqlite:///{folder}/load.sqlite"
        server = Server(url, Path(folder) / "server.log", embedded_workers=0)
        os.environ["PAUSED"] = str(Path(folder) / "paused")
        worker = start_worker(url, Path(folder) / "worker.log", program("plan"))
        try:
            project = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
            kept = server.client.post("/projects", json=project).headers["Location"]
            for _ in range(times):
                plan = server.client.post(f"{kept}/plans").headers["Location"]
                wait_for(lambda: solvers_of(worker.process.pid) or None, 60, "the solver")
                started = time.monotonic()
                server.client.delete(plan)
                while solvers_of(worker.process.pid):
                    time.sleep(0.005)
                measured.append(time.monotonic() - started)
        finally:
            worker.kill()
            server.stop()
            if postgresql:
                postgresql.close()
    return sorted(measured)


def table_of(measured: list[Measured], title: str) -> Table:
    """The loads as a table."""
    table = Table(title=title)
    for heading in ("way", "workers", "clients", "plans", "errors", "p50 s", "p95 s", "plans / s"):
        table.add_column(heading, justify="left" if heading == "way" else "right")
    for one in measured:
        figures = (one.workers, one.clients, one.plans, one.errors, one.p50_seconds, one.p95_seconds)
        table.add_row(one.way, *(str(figure) for figure in figures), str(one.plans_per_second))
    return table


def table_of_attacks(found: list[Attack], title: str) -> Table:
    """The attacks as a table."""
    table = Table(title=title)
    for heading in ("attack", "measured", "found"):
        table.add_column(heading)
    for one in found:
        table.add_row(one.name, one.measured, one.figure)
    return table


def main(arguments: list[str] | None = None) -> int:
    """Runs the loads: 0 when there was no error."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.load", description="Loads the service.")
    parser.add_argument("--clients", type=int, default=50)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--only", choices=("load", "attacks"), help="one half of it")
    parser.add_argument("--results", type=Path, metavar="FILE", help="where the figures are written as JSON")
    options = parser.parse_args(arguments)
    if options.only == "attacks":
        return _attacks(options.database)
    measured = []
    for way in (at_once, in_background):
        for workers in (1, 2):
            measured.append(measure(options.database, way, workers, options.clients, options.seconds))
            print(measured[-1], file=sys.stderr, flush=True)
    title = f"{options.clients} clients planning the small sample on {options.database}, {os.cpu_count()} processors"
    Console(width=110).print(table_of(measured, title))
    cancelled = cancelling(options.database, 10)
    median, longest = cancelled[len(cancelled) // 2], cancelled[-1]
    print(f"10 plans cancelled: their solvers were gone after {median:.2f} s, at most {longest:.2f} s")
    if options.results:
        found = {"loads": [asdict(one) for one in measured], "cancel_seconds": cancelled}
        options.results.write_text(json.dumps(found, indent=1))
    if options.only is None:
        _attacks(options.database)
    return 1 if any(one.errors for one in measured) else 0


def _attacks(database: str) -> int:
    found = attacked(database, lambda line: print(line, file=sys.stderr, flush=True))
    Console(width=150).print(table_of_attacks(found, f"Attacks on the service with {database}"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
