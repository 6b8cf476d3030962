"""`python -m benchmarks.pages [--levels 140] [--database sqlite|postgresql] [--seconds 30] [--kept FILE]`.

The tall building (invented) with some 22,000 pieces is planned by a worker of a running service. Then every page of the
plan, of its job once it has begun and of a refit is asked for, first and again with If-None-Match, and every document
first and again. Milliseconds run from asking until the last byte is there. Server, worker and client share this
machine's processors, so beside other work they are more: the server's own processor time stands beside them. Exit code
1 when a target is missed: 150 ms for a page the first time, 304 after; 50 ms for a document after the first time.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console
from rich.table import Table

from benchmarks.instances.tall_building import tall_building
from tests.service.postgresql import PostgreSQL
from tests.service.running import Server, start_worker, wait_for_plan

SEED = 1
PAGE_MS, DOCUMENT_MS = 150, 50
_LONGEST_SECONDS = 900


@dataclass(frozen=True)
class Asked:
    """A page or a document: what was answered the first time and after, in how many milliseconds; `kilobytes` went over
    the wire the first time, for which the server's process took `first_cpu_ms` of a processor."""

    address: str
    page: bool
    first_status: int
    first_ms: float
    again_status: int
    again_ms: float
    kilobytes: float
    first_cpu_ms: float

    @property
    def missed(self) -> bool:
        """Whether a target is missed."""
        if self.page:
            return self.first_status != 200 or self.first_ms > PAGE_MS or self.again_status != 304
        return self.first_status != 200 or self.again_ms > DOCUMENT_MS


def pages_of(levels: int) -> tuple[str, ...]:
    """Every kind of page of a plan, those of one level, run and board from the middle of the building."""
    middle = levels // 2
    return (
        "",
        "/deliveries",
        "/dates",
        "/levels",
        f"/levels/{middle}",
        f"/runs/{4 * middle}",
        f"/boards?level={middle}",
        f"/boards?level={middle}&part=2",
        "/boards/1000",
        f"/find?q=L{middle}-2-01",
        "/options",
        "/refits",
        "/revisions",
    )


def pages_of_job(levels: int) -> tuple[str, ...]:
    """The pages of a building whose job has begun, and those at its slab edge of the level that is worked on."""
    here = f"/levels/{levels // 2}"
    return (
        "/buildings/{}",
        "/site/{}",
        *(f"/site/{{}}{here}{part}" for part in ("", "/fit", "/measure", "/inspect")),
        "/site/{}/receiving",
        "/buildings/{}/prices",
    )


def begin_job(server: Server, plan: dict[str, Any], levels: int) -> str:
    """Puts on record that a level's first runs are cut and half of them fitted, and has what is cut of it refitted to
    the survey: the address of the refit."""
    client, level = server.client, f"L{levels // 2}"
    address = f"/v1/projects/{plan['project_id']}/events"
    pieces = [
        piece["id"]
        for piece in client.get(f"/v1/plans/{plan['id']}/plan.json", timeout=_LONGEST_SECONDS).json()[
            "pieces"
        ]
        if piece["level"] == level
    ][:60]
    events = [
        {"id": f"{kind} {piece}", "at": "2027-03-01T08:00:00", "event": kind, "piece": piece}
        for kind, some in (("cut", pieces), ("fitted", pieces[:30]))
        for piece in some
    ]
    client.post(address, json=events, timeout=_LONGEST_SECONDS).raise_for_status()
    asked_for = client.post(
        f"/v1/plans/{plan['id']}/refits", params={"cut_levels": level}, timeout=_LONGEST_SECONDS
    )
    refit = wait_for_plan(client, asked_for.raise_for_status().headers["Location"], _LONGEST_SECONDS)
    return f"/schedules/{plan['id']}/refits/{refit['id']}"


def documents_of(levels: int) -> tuple[str, ...]:
    """Every document of a plan that is a draft, as the pages and the calls offer it; what the crew prints, of one level
    and of all."""
    level = f"level=L{levels // 2}"
    return (
        "/plan.json",
        *(f"/order.{form}" for form in ("json", "csv", "xlsx", "pdf", "xml")),
        "/deliveries.csv",
        "/deliveries.ics",
        "/office.xlsx",
        f"/cutting-sheets.pdf?{level}",
        f"/labels.pdf?{level}",
        "/cutting-sheets.pdf",
        "/labels.pdf",
        "/files/re-measure.pdf",
        "/layouts/1000.svg",
        f"/elevations/L{levels // 2}-1.svg",
    )


def cpu_ms(process: int) -> float:
    """Milliseconds that a process has had a processor for, without those that it started."""
    tasks = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(task.read_text().split()[0]) for task in tasks) / 1e6


def read(client: httpx.Client, address: str, etag: str = "") -> tuple[int, float, int, str]:
    """Status, milliseconds until the last byte, bytes over the wire and the ETag of an answer."""
    headers = {"If-None-Match": etag} if etag else {}
    began = time.perf_counter()
    with client.stream("GET", address, headers=headers, timeout=_LONGEST_SECONDS) as answer:
        length = sum(len(part) for part in answer.iter_raw())
    milliseconds = (time.perf_counter() - began) * 1000
    return answer.status_code, milliseconds, length, answer.headers.get("ETag", "")


def asked(server: Server, address: str, *, page: bool) -> Asked:
    """A page or document, asked for twice."""
    before = cpu_ms(server.process.pid)
    status, first, length, etag = read(server.client, address)
    cpu = cpu_ms(server.process.pid) - before
    again = read(server.client, address, etag if page else "")
    return Asked(address, page, status, first, again[0], again[1], length / 1000, cpu)


def planned(server: Server, levels: int, seconds: float) -> dict[str, Any]:
    """The building's newest plan: the one that the database has, or a new one."""
    client = server.client
    for project in client.get("/projects").json()["items"]:
        for plan in client.get(f"/projects/{project['id']}/plans?status=done").json()["items"]:
            return dict(plan)
    project = tall_building(SEED, levels).model_dump_json(by_alias=True)
    headers = {"Content-Type": "application/json"}
    sent = client.post("/projects", content=project, headers=headers, timeout=_LONGEST_SECONDS)
    began = time.perf_counter()
    queued = client.post(f"{sent.headers['Location']}/plans", json={"time_limit": seconds})
    plan = wait_for_plan(client, queued.headers["Location"], _LONGEST_SECONDS)
    if plan["status"] != "done":
        raise SystemExit(f"the plan is {plan['status']}: {plan['error']}")
    print(f"planned and kept in {time.perf_counter() - began:.0f} s", file=sys.stderr)
    return plan


def measure(levels: int, database: str, seconds: float, kept: Path | None) -> Iterator[Asked]:
    """Plans the building in a service of its own, and asks for everything."""
    postgresql = PostgreSQL() if database == "postgresql" else None
    with tempfile.TemporaryDirectory() as folder:
        file = kept.resolve() if kept else Path(folder) / "pages.sqlite"
        url = postgresql.url("pages") if postgresql else f"sqlite:///{file}"
        server = Server(url, Path(folder) / "server.log", embedded_workers=0, rate_per_minute=0)
        worker = start_worker(url, Path(folder) / "worker.log", job_seconds=_LONGEST_SECONDS)
        try:
            plan = planned(server, levels, seconds)
            print(
                f"{plan['figures']['pieces']:,} pieces, {plan['figures']['layouts']:,} layouts",
                file=sys.stderr,
            )
            server.client.get("/account")  # the first request of all waits for imports
            for part in pages_of(levels):
                yield asked(server, f"/schedules/{plan['id']}{part}", page=True)
            refit = begin_job(server, plan, levels)
            for part in pages_of_job(levels):
                yield asked(server, part.format(plan["project_id"]), page=True)
            yield asked(server, refit, page=True)
            for part in documents_of(levels):
                base = "/schedules" if part.startswith("/files/") else "/v1/plans"
                yield asked(server, f"{base}/{plan['id']}{part}", page=False)
        finally:
            worker.stop()
            server.stop()
            if postgresql:
                postgresql.close()


def _without_ids(address: str) -> str:
    """An address as the table shows it: a plan's pages and documents bare, elsewhere a dash for a name by hash."""
    short = re.sub(r"\b[0-9a-f]{32}\b", "-", address)
    return re.sub("^(/schedules|/v1/plans)/-/?", "/", short)


def table_of(found: list[Asked], title: str) -> Table:
    """What was asked for as a table."""
    table = Table(title=title)
    table.add_column("what")
    for heading in ("kB", "first, ms", "CPU, ms", "status", "target", "again, ms", "status", "target"):
        table.add_column(heading, justify="right")
    table.add_column("missed")
    for one in found:
        targets = (str(PAGE_MS), "304") if one.page else ("", f"{DOCUMENT_MS} ms")
        table.add_row(
            _without_ids(one.address),
            f"{one.kilobytes:,.0f}",
            f"{one.first_ms:,.0f}",
            f"{one.first_cpu_ms:,.0f}",
            str(one.first_status),
            targets[0],
            f"{one.again_ms:,.0f}",
            str(one.again_status),
            targets[1],
            "missed" if one.missed else "",
        )
    return table


def main(arguments: list[str] | None = None) -> int:
    """Asks for everything: 0 when every target is met."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.pages", description="Pages of a large plan.")
    parser.add_argument("--levels", type=int, default=140, help="of some 157 pieces each")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--seconds", type=float, default=30, help="the solver's, for the plan")
    parser.add_argument(
        "--kept",
        type=Path,
        metavar="FILE",
        help="an SQLite database whose plan is asked for, made where it is not there",
    )
    parser.add_argument("--results", type=Path, metavar="FILE", help="where the figures are written as JSON")
    options = parser.parse_args(arguments)
    found = list(measure(options.levels, options.database, options.seconds, options.kept))
    title = (
        f"Pages and documents of {options.levels} levels on {options.database}, {os.cpu_count()} processors"
    )
    Console(width=120).print(table_of(found, title))
    if options.results:
        options.results.write_text(json.dumps([asdict(one) for one in found], indent=1))
    return 1 if any(one.missed for one in found) else 0


if __name__ == "__main__":
    sys.exit(main())
