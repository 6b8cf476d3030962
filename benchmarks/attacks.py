"""What a stranger or one company does to the others, each attack with its figure: part of `benchmarks.load`.

The service asks for keys; a company called north attacks, one called south works on. Clients, server and workers share
this machine's processors.
"""

from __future__ import annotations

import contextlib
import json
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from tests.service.postgresql import PostgreSQL
from tests.service.running import ROOT, Server, environment, start_workers, stop_all, wait_for_plan

_BODY = b"[" + b'{"a": 1}, ' * 3_250_000 + b"1]"  # some 31 MB of JSON
_HALF_SENT, _DOWNLOADS, _COMPARISONS = 3000, 80, 6


@dataclass(frozen=True)
class Attack:
    """An attack, what is measured of it, and what was found."""

    name: str
    measured: str
    figure: str


class Attacked:
    """A service that asks for keys, with two workers, and a building with a plan of each company."""

    def __init__(self, database: str, folder: Path) -> None:
        self._postgresql = PostgreSQL() if database == "postgresql" else None
        url = self._postgresql.url("attacked") if self._postgresql else f"sqlite:///{folder}/attacked.sqlite"
        settings: dict[str, object] = {"keys_required": "true", "rate_per_minute": 0, "poll_seconds": 0.1}
        self.server = Server(url, folder / "server.log", embedded_workers=0, **settings)
        self._workers = start_workers(url, folder, 2, **settings)
        self.project = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
        self.clients: dict[str, httpx.Client] = {}
        for company in ("north", "south"):
            add = [sys.executable, "-m", "api.accounts", "add", company, "office", "--role", "plan"]
            made = subprocess.run(add, env=environment(url), capture_output=True, text=True, check=True)
            self.clients[company] = httpx.Client(
                base_url=self.server.client.base_url,
                timeout=600,
                headers={"Authorization": f"Bearer {made.stdout.strip()}"},
                limits=httpx.Limits(max_connections=100),
            )
        self.kept = {company: self._kept(client) for company, client in self.clients.items()}

    def close(self) -> None:
        """Stops everything."""
        for client in self.clients.values():
            client.close()
        stop_all(self._workers)
        self.server.stop()
        if self._postgresql:
            self._postgresql.close()

    def _kept(self, client: httpx.Client) -> tuple[str, str]:
        project = client.post("/projects", json=self.project).headers["Location"]
        plan = client.post(f"{project}/plans").headers["Location"]
        wait_for_plan(client, plan)
        return project, plan


@contextlib.contextmanager
def _waiting(ask: Callable[[], httpx.Response]) -> Iterator[list[float]]:
    """Asks again and again while the block runs: how long each answer took. Raises where one is no answer."""
    times: list[float] = []
    over = threading.Event()

    def asking() -> None:
        while not over.wait(0.02):
            started = time.monotonic()
            ask().raise_for_status()
            times.append(time.monotonic() - started)

    with ThreadPoolExecutor(1) as thread:
        asked = thread.submit(asking)
        try:
            yield times
        finally:
            over.set()
            asked.result()


def _told(times: list[float]) -> str:
    return f"{statistics.median(times):.2f} s, at most {max(times):.2f} s"


def body_without_a_key(place: Attacked) -> Attack:
    """Ten strangers send 31 MB of JSON each."""
    project, _ = place.kept["south"]
    south = place.clients["south"]

    def send(_: int) -> None:
        with contextlib.suppress(httpx.TransportError):
            httpx.post(f"{south.base_url}{project}/plans", content=_BODY, timeout=60)

    with _waiting(lambda: south.get("/projects")) as times, ThreadPoolExecutor(10) as strangers:
        list(strangers.map(send, range(10)))
    return Attack("ten times 31 MB without a key", "another's request meanwhile", _told(times))


def half_sent_headers(place: Attacked) -> Attack:
    """A stranger opens thousands of connections and never finishes a header."""
    south, port = place.clients["south"], place.server.port
    before, slow = place.server.log.stat().st_size, []
    began = time.monotonic()
    with _waiting(lambda: south.get("/projects")) as times:
        for _ in range(_HALF_SENT):
            with contextlib.suppress(OSError):
                one = socket.create_connection(("127.0.0.1", port), 5)
                one.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
                slow.append(one)
        while not all(map(_is_closed, slow)) and time.monotonic() - began < 120:
            time.sleep(0.2)
    seconds, grown = time.monotonic() - began, place.server.log.stat().st_size - before
    lines = 300 * len(times)  # of the requests that were answered
    for one in slow:
        one.close()
    figure = f"{_told(times)}; all closed after {seconds:.0f} s; the log grew by {max(0, grown - lines) / 1024:.0f} KB"
    return Attack(f"{_HALF_SENT:,} half-sent headers", "another's request meanwhile", figure)


def _is_closed(one: socket.socket) -> bool:
    one.setblocking(False)
    try:
        return one.recv(4096) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def downloads(place: Attacked) -> Attack:
    """One company asks for eighty documents at once, again and again."""
    north, south = place.clients["north"], place.clients["south"]
    mine, theirs = place.kept["south"][1], place.kept["north"][1]
    statuses: list[int] = []
    with (
        _waiting(lambda: south.get(f"{mine}/order.pdf")) as times,
        ThreadPoolExecutor(_DOWNLOADS) as threads,
    ):
        asked = (f"{theirs}/cutting-sheets.pdf" for _ in range(2 * _DOWNLOADS))
        statuses += threads.map(lambda path: north.get(path).status_code, asked)
    turned_away = statuses.count(429) + statuses.count(503)
    figure = f"{_told(times)}; {statuses.count(200)} of theirs made, {turned_away} told to come again"
    return Attack(f"{_DOWNLOADS} downloads at once", "another's document meanwhile", figure)


def comparisons(place: Attacked) -> Attack:
    """One company asks for six long comparisons, another for a plan of a second."""
    north, south = place.clients["north"], place.clients["south"]
    alone = _seconds_of_a_plan(south, place.kept["south"][0], 100)
    wanted: dict[str, Any] = {"from_mm": 100, "to_mm": 200, "step_mm": 1, "time_limit": 5}
    asked = [
        north.post(f"{place.kept['north'][0]}/comparisons", json={**wanted, "seed": seed})
        for seed in range(_COMPARISONS)
    ]
    time.sleep(2.0)
    times = [_seconds_of_a_plan(south, place.kept["south"][0], seed) for seed in range(5)]
    open_still = sum(
        north.get(one.headers["Location"]).json()["status"] in ("queued", "running") for one in asked
    )
    for one in asked:
        north.delete(one.headers["Location"])
    figure = (
        f"{_told(times)} (alone {alone:.2f} s); {open_still} of {_COMPARISONS} comparisons were still open"
    )
    return Attack(f"{_COMPARISONS} comparisons", "another's plan of a second", figure)


def _seconds_of_a_plan(client: httpx.Client, project: str, seed: int) -> float:
    began = time.monotonic()
    plan = client.post(f"{project}/plans", json={"seed": seed}).headers["Location"]
    assert wait_for_plan(client, plan, 600)["status"] == "done"
    return time.monotonic() - began


ATTACKS = (body_without_a_key, half_sent_headers, downloads, comparisons)


def attacked(database: str, tell: Callable[[str], None]) -> list[Attack]:
    """Every attack on one service, one after the other."""
    with tempfile.TemporaryDirectory() as folder:
        place = Attacked(database, Path(folder))
        try:
            found = []
            for attack in ATTACKS:
                found.append(attack(place))
                tell(f"{found[-1].name}: {found[-1].measured} {found[-1].figure}")
            return found
        finally:
            place.close()
