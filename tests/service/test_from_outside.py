"""What was once seen to go wrong with a running service, each from outside: over HTTP, with its commands, and in its
database file. Nothing of the service is imported, so that this file can be put into an older version's tests and run
there: each of these fails on the code from before orders of record, admission and roles."""

from __future__ import annotations

import json
import re
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import httpx
import psycopg
import pytest

from tests.service.postgresql import PostgreSQL
from tests.service.running import ROOT, Server, environment, wait_for_plan

SMALL = json.loads((ROOT / "sample_orders" / "small" / "small.json").read_text())
KEYED: dict[str, Any] = {"keys_required": "true", "rate_per_minute": 0}
pytestmark = pytest.mark.slow


class Outside:
    """A server and what an operator has in hand: its folder, its database file and its commands."""

    def __init__(self, folder: Path, embedded_workers: int = 1, url: str = "", **settings: Any) -> None:
        folder.mkdir(exist_ok=True)
        self.folder, self.settings, self.workers = folder, settings, embedded_workers
        self.file = folder / "orders.sqlite"
        self.url = url or f"sqlite:///{self.file}"
        self.start()

    def start(self) -> None:
        self.server = Server(
            self.url, self.folder / "server.log", embedded_workers=self.workers, **self.settings
        )
        self.client = self.server.client

    def stop(self) -> None:
        self.server.stop()

    def wait_for_readiness(self, status: int) -> None:
        """Until /readyz answers so."""
        ended = time.monotonic() + 120
        while (answer := self.client.get("/readyz")).status_code != status:
            assert time.monotonic() < ended, f"{answer.status_code} instead of {status}: {answer.text}"
            time.sleep(0.25)

    def key(self, company: str, role: str = "plan", name: str = "office") -> dict[str, str]:
        add = [sys.executable, "-m", "api.accounts", "add", company, name, "--role", role]
        made = subprocess.run(add, env=environment(self.url), capture_output=True, text=True, check=True)
        return {"Authorization": f"Bearer {made.stdout.strip()}"}

    def planned(self, seed: int = 0, project: str | None = None) -> tuple[str, str]:
        """A kept project and a finished plan of it; another plan where the project is kept already."""
        kept = project or self.client.post("/projects", json=SMALL).headers["Location"]
        plan = self.client.post(f"{kept}/plans", json={"seed": seed}).headers["Location"]
        assert wait_for_plan(self.client, plan)["status"] == "done"
        return kept, plan

    def changed(self, project: str, gap_mm: int) -> str:
        """A finished plan of a newer survey, whose first gap is another."""
        gaps = [{**SMALL["gaps"][0], "gap_mm": gap_mm}, *SMALL["gaps"][1:]]
        version = self.client.get(project).headers.get("ETag", "*")
        sent = self.client.put(project, json={**SMALL, "gaps": gaps}, headers={"If-Match": version})
        assert sent.status_code == 200, sent.text
        return self.planned(project=project)[1]

    def issued(self, plan: str) -> httpx.Response:
        return self.client.post(f"{plan}/issue")

    @contextmanager
    def meddling(self) -> Iterator[sqlite3.Connection]:
        """The database as one writes in it by hand, without what guards its tables."""
        with closing(sqlite3.connect(self.file, timeout=30)) as connection, connection:
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            ).fetchall():
                connection.execute(f"DROP TRIGGER {name}")
            yield connection


@pytest.fixture
def outside(tmp_path: Path) -> Iterator[Outside]:
    place = Outside(tmp_path / "place")
    try:
        yield place
    finally:
        place.stop()


@pytest.fixture(scope="module")
def asking_for_keys(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Outside]:
    place = Outside(tmp_path_factory.mktemp("keyed"), **KEYED)
    try:
        yield place
    finally:
        place.stop()


@pytest.fixture(scope="module")
def on_postgresql(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Outside]:
    database = PostgreSQL()
    place = Outside(tmp_path_factory.mktemp("postgresql"), 0, database.url("outside"), **KEYED)
    try:
        yield place
    finally:
        place.stop()
        database.close()


def _altered(document: bytes) -> bytes:
    """A kept plan with another total, in the form that it was kept in."""
    packed = document[:1] == b"\x78"
    plan = json.loads(zlib.decompress(document) if packed else document)
    plan["order"]["total"] = "99999.99"
    text = json.dumps(plan).encode()
    return zlib.compress(text) if packed else text


def test_an_issued_order_is_what_was_issued_though_its_plan_was_altered(outside: Outside) -> None:
    _, plan = outside.planned()
    assert outside.issued(plan).status_code in (200, 201)
    job = plan.rsplit("/", 1)[1]
    with outside.meddling() as database:
        (document,) = database.execute("SELECT document FROM job_results WHERE job_id = ?", [job]).fetchone()
        database.execute("UPDATE job_results SET document = ? WHERE job_id = ?", [_altered(document), job])
    for form in ("order.json", "order.csv", "order.xml"):
        text = outside.client.get(f"{plan}/{form}").text
        assert "99999.99" not in text, form
    assert "99,999.99" not in outside.client.get(f"/schedules/{job}").text


def test_a_deleted_last_revision_is_told_and_its_number_is_not_given_again(outside: Outside) -> None:
    project, plan = outside.planned()
    outside.issued(plan)
    later = outside.changed(project, 131)
    assert outside.issued(later).json()["revision"] == 2
    with outside.meddling() as database:
        for table in ("issued_documents", "issued_orders"):
            with suppress(sqlite3.OperationalError):
                database.execute(f"DELETE FROM {table} WHERE revision = 2")
    assert outside.client.get(f"{project}/orders").json()["chain_intact"] is False
    again = outside.issued(outside.changed(project, 132))
    assert again.status_code == 409 or again.json()["revision"] != 2


def test_a_restored_backup_issues_no_second_revision_2(outside: Outside) -> None:
    project, plan = outside.planned()
    outside.issued(plan)
    older = outside.folder / "older.sqlite"
    with closing(sqlite3.connect(outside.file)) as now, closing(sqlite3.connect(older)) as copy:
        now.backup(copy)
    assert outside.issued(outside.changed(project, 131)).json()["revision"] == 2
    outside.stop()
    for left in outside.folder.glob("orders.sqlite-*"):
        left.unlink()
    shutil.copy(older, outside.file)
    outside.start()
    again = outside.issued(outside.changed(project, 133))
    assert again.status_code == 409 or again.json()["revision"] != 2


def test_what_the_greeting_names_as_a_backup_holds_everything(outside: Outside) -> None:
    kept = outside.client.post("/projects", json=SMALL).json()["id"]
    copy = outside.folder / "copy.sqlite"
    if "barrier-orders backup" in outside.server.log.read_text():
        archive = str(outside.folder / "all.backup")
        for command, url in (("backup", outside.url), ("restore", f"sqlite:///{copy}")):
            done = [str(Path(sys.executable).parent / "barrier-orders"), command, archive]
            subprocess.run(done, env=environment(url), check=True, capture_output=True)
    else:
        shutil.copy(outside.file, copy)  # the file that it names
    with closing(sqlite3.connect(copy)) as database:
        assert database.execute("SELECT count(*) FROM projects WHERE id = ?", [kept]).fetchone() == (1,)


def test_a_large_body_without_a_key_keeps_nobody_waiting(asking_for_keys: Outside) -> None:
    outside = asking_for_keys
    mine = outside.key("south")
    body = b"[" + b'{"a": 1}, ' * 3_250_000 + b"1]"

    def send(_: int) -> None:
        with suppress(httpx.TransportError):
            httpx.post(
                f"{outside.client.base_url}/projects/x/plans",
                content=body,
                timeout=120,
                headers={"Content-Type": "application/json"},
            )

    slowest = 0.0
    with ThreadPoolExecutor(10) as strangers:
        sent = [strangers.submit(send, one) for one in range(10)]
        while not all(one.done() for one in sent):
            began = time.monotonic()
            assert outside.client.get("/projects", headers=mine).status_code == 200
            slowest = max(slowest, time.monotonic() - began)
            time.sleep(0.02)
    print(f"slowest {slowest:.2f} s")
    assert slowest < 2


def test_half_sent_headers_time_out(tmp_path: Path) -> None:
    outside = Outside(tmp_path / "place")
    try:
        slow = []
        for _ in range(20):
            one = socket.create_connection(("127.0.0.1", outside.server.port), 5)
            one.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
            one.settimeout(40)
            slow.append(one)
        began = time.monotonic()
        ends = 0
        for one in slow:
            one.settimeout(max(0.1, 40 - (time.monotonic() - began)))
            with suppress(TimeoutError):
                while one.recv(4096):
                    pass
                ends += 1
            one.close()
        print(f"{ends} ended after {time.monotonic() - began:.0f} s")
        assert ends == 20
    finally:
        outside.stop()


def test_one_companys_downloads_keep_no_other_company_waiting(tmp_path: Path) -> None:
    outside = Outside(tmp_path / "place", **KEYED)
    try:
        keys = {company: outside.key(company) for company in ("north", "south")}
        plans = {}
        for company, key in keys.items():
            with httpx.Client(base_url=outside.client.base_url, headers=key, timeout=120) as client:
                kept = client.post("/projects", json=SMALL).headers["Location"]
                plans[company] = client.post(f"{kept}/plans").headers["Location"]
                wait_for_plan(client, plans[company])
        many = httpx.Limits(max_connections=100)
        with httpx.Client(base_url=outside.client.base_url, limits=many, timeout=600) as client:

            def sheets(_: int) -> int:
                return client.get(f"{plans['north']}/cutting-sheets.pdf", headers=keys["north"]).status_code

            with ThreadPoolExecutor(81) as threads:
                theirs = [threads.submit(sheets, one) for one in range(80)]
                time.sleep(1.0)
                began = time.monotonic()
                answer = httpx.get(
                    f"{outside.client.base_url}{plans['south']}/order.pdf", headers=keys["south"], timeout=600
                )
                seconds = time.monotonic() - began
                statuses = [one.result() for one in theirs]
                whole = time.monotonic() - began
        print(f"another's {seconds:.2f} s while all took {whole:.1f} s; {statuses.count(200)} made")
        assert answer.status_code == 200
        assert seconds < 3
    finally:
        outside.stop()


def test_a_short_plan_does_not_wait_for_another_companys_comparisons(tmp_path: Path) -> None:
    outside = Outside(tmp_path / "place", **KEYED)
    try:
        keys = {company: outside.key(company) for company in ("north", "south")}
        with (
            httpx.Client(base_url=outside.client.base_url, headers=keys["north"], timeout=120) as north,
            httpx.Client(base_url=outside.client.base_url, headers=keys["south"], timeout=120) as south,
        ):
            kept = north.post("/projects", json=SMALL).headers["Location"]
            wanted = {"from_mm": 100, "to_mm": 200, "step_mm": 1, "time_limit": 5}
            asked = [north.post(f"{kept}/comparisons", json={**wanted, "seed": seed}) for seed in range(6)]
            mine = south.post("/projects", json=SMALL).headers["Location"]
            began = time.monotonic()
            plan = south.post(f"{mine}/plans").headers["Location"]
            ended = None
            with suppress(AssertionError):
                ended = wait_for_plan(south, plan, 60)
            print(f"waited {time.monotonic() - began:.1f} s")
            still = [north.get(one.headers["Location"]).json()["status"] for one in asked]
            for one in asked:
                north.delete(one.headers["Location"])
            assert ended is not None
            assert ended["status"] == "done"
            assert sum(one in ("queued", "running") for one in still) >= 4, still
    finally:
        outside.server.kill()  # the comparisons are not waited for


def test_gaps_that_stand_twice_are_refused(outside: Outside) -> None:
    text = json.dumps(SMALL)[:-1] + ', "gaps": ' + json.dumps(SMALL["gaps"]) + "}"
    for path in ("/projects", "/order-schedules"):
        answer = outside.client.post(path, content=text, headers={"Content-Type": "application/json"})
        assert answer.status_code == 422, path


def test_it_is_not_ready_without_a_worker(tmp_path: Path) -> None:
    folder = tmp_path / "place"
    folder.mkdir()
    url = f"sqlite:///{folder}/orders.sqlite"
    server = Server(url, folder / "log", embedded_workers=1)
    server.stop()
    program = f"from api.serving import serve; serve(port={server.port})"
    process = subprocess.Popen([sys.executable, "-c", program], env=environment(url, embedded_workers=0))
    try:
        status = None
        for _ in range(200):
            with suppress(httpx.TransportError):
                status = httpx.get(f"http://127.0.0.1:{server.port}/readyz").status_code
                break
            time.sleep(0.1)
        assert status == 503
    finally:
        process.terminate()
        process.wait(30)


def test_it_is_not_ready_with_a_full_disk(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=700m", "tmpfs", str(disk)], check=True)
    try:
        outside = Outside(disk / "place")
        try:
            outside.wait_for_readiness(200)  # its worker is alive a moment after it answers
            with suppress(OSError), (disk / "filler").open("wb") as filler:
                while True:
                    filler.write(b"x" * 2**20)
                    filler.flush()
            outside.wait_for_readiness(503)
            (disk / "filler").unlink()
        finally:
            outside.stop()
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def test_without_keys_nothing_is_served_through_a_proxy(outside: Outside) -> None:
    sent = {"X-Forwarded-For": "203.0.113.9"}
    assert outside.client.get("/projects", headers=sent).status_code in (401, 403)


def test_nul_in_an_address_is_no_fault_of_the_service(on_postgresql: Outside) -> None:
    key = on_postgresql.key("east", "read")
    for path in ("/projects/%00", "/plans/a%00b", "/schedules/%00", "/projects?after=%00"):
        assert on_postgresql.client.get(path, headers=key).status_code in (400, 404), path


def test_a_keys_name_of_190_characters_still_keeps_a_project(on_postgresql: Outside) -> None:
    key = on_postgresql.key("east", name="o" * 10)
    with psycopg.connect(on_postgresql.url.replace("postgresql+psycopg", "postgresql")) as database:
        database.execute("UPDATE api_keys SET name = %s WHERE name = %s", ["o" * 190, "o" * 10])
    project = on_postgresql.client.post("/projects", json=SMALL, headers=key)
    assert project.status_code == 201


def test_every_setting_is_documented() -> None:
    text = (
        (ROOT / "api" / "settings.py")
        .read_text()
        .partition("class Settings")[2]
        .partition("    @property")[0]
    )
    fields = re.findall(r"^    (\w+): [^=\n(]+ = ", text, re.MULTILINE)
    assert len(fields) > 15
    told = "".join(
        path.read_text() for path in (ROOT / "README.md", *(ROOT / "docs").glob("*.md")) if path.exists()
    )
    missing = [
        name for name in fields if name != "database_url" and f"BARRIER_ORDERS_{name.upper()}" not in told
    ]
    assert missing == []
