"""`python -m tests.service.released.make FORM COMMIT`: a database of a released form, made by that release's own code.

Checks the commit out beside the repository, runs its service with a worker on SQLite and on PostgreSQL, issues two
revisions of the small invented building (and puts on record what that release can), and keeps both databases here as
FORM.sqlite.gz and FORM.postgresql.sql.gz, from 0004 on with each one's anchor and the key (of nothing else) that signed
it. To be run once a release, when a migration is added; what was made so far:

    0001  2850789
    0003  db4d3dc
    0004  0cc5534
    0007  f682970
"""

from __future__ import annotations

import argparse
import gzip
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]

# Runs under the release's own tree; its argument is the database's URL and a folder for logs.
_PROGRAM = """
import json, logging, structlog, sys
from pathlib import Path
from dataclasses import replace
from fastapi.testclient import TestClient
from api.app import create_app
from api.settings import Settings, usable_database_url
from tests.service.running import start_worker, wait_for_plan

url, folder = sys.argv[1], Path(sys.argv[2])
project = json.loads(next(Path("sample_orders/small").glob("*.json")).read_text())
structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.WARNING))
settings = replace(Settings(), database_url=usable_database_url(url))
with TestClient(create_app(settings)) as client:
    worker = start_worker(url, folder / "worker.log")
    try:
        location = client.post("/projects", json=project).headers["Location"]
        for by_mm in (0, 40):
            if by_mm:
                wider = {**project, "gaps": [{**gap, "gap_mm": gap["gap_mm"] + by_mm} for gap in project["gaps"]]}
                etag = client.get(location).headers["ETag"]
                assert client.put(location, json=wider, headers={"If-Match": etag}).status_code == 200
            plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
            issued = client.post(f"/plans/{plan['id']}/issue")
            assert issued.status_code == 201, issued.text
        board = next(row["code"] for row in project["products"] if row["kind"] == "board")
        event = {"id": "one", "at": "2027-02-01T08:00:00", "event": "ordered", "code": board, "quantity": 4}
        told = client.post(f"{location}/events", json=[event])
        assert told.status_code in (200, 201, 404, 405), told.text
        jpeg = b"\\xff\\xd8\\xff\\xe0" + b"invented picture" + b"\\xff\\xd9"
        about = {"at": "2027-05-03T10:00:00", "what": "joint", "piece": "L1-N-003", "by": "crew 2"}
        shot = client.put(f"{location}/photographs/first", params=about, content=jpeg)
        assert shot.status_code in (201, 404, 405), shot.text
    finally:
        worker.stop()
"""


def main() -> None:
    """Makes the two files of one form."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("form", help="the newest migration of the release, such as 0003")
    parser.add_argument("commit", help="a commit whose newest migration that is")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        subprocess.run(
            ["git", "worktree", "add", "--detach", str(tree), options.commit], cwd=ROOT, check=True
        )
        try:
            _build_kernels(tree)
            _sqlite(tree, Path(folder), HERE / f"{options.form}.sqlite.gz")
            _postgresql(tree, Path(folder), HERE / f"{options.form}.postgresql.sql.gz")
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", str(tree)], cwd=ROOT, check=True)


def _sqlite(tree: Path, folder: Path, into: Path) -> None:
    file = folder / "made.sqlite"
    _run(tree, f"sqlite:///{file}", folder)
    database = sqlite3.connect(file)
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.execute("PRAGMA journal_mode=DELETE")
    database.execute("VACUUM")
    database.close()
    into.write_bytes(gzip.compress(file.read_bytes(), mtime=0))
    _keep_anchor(folder, into)


def _postgresql(tree: Path, folder: Path, into: Path) -> None:
    from tests.service.postgresql import PostgreSQL

    server = PostgreSQL()
    try:
        url = server.url("made")
        _run(tree, url, folder)
        dumped = subprocess.run(
            [str(server.binaries / "pg_dump"), "--no-owner", "--no-privileges", "--inserts", url],
            capture_output=True,
            check=True,
        ).stdout
    finally:
        server.close()
    plain = b"\n".join(
        line
        for line in dumped.split(b"\n")
        if not line.startswith((b"\\", b"SET ", b"SELECT pg_catalog.set_config"))
    )
    into.write_bytes(gzip.compress(plain, mtime=0))
    _keep_anchor(folder / "state", into)


def _keep_anchor(folder: Path, into: Path) -> None:
    """Keeps what a release puts beside its database, or with PostgreSQL in the state folder."""
    for what in ("anchor", "signing-key"):
        for file in (
            folder.rglob(f"*-made.{what}") if folder.name == "state" else folder.glob(f"made.sqlite.{what}")
        ):
            form, kind, *_ = into.name.split(".")
            into.with_name(f"{form}.{kind}.{what}").write_bytes(file.read_bytes())


def _run(tree: Path, url: str, folder: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": str(tree), "XDG_STATE_HOME": str(folder / "state")}
    subprocess.run([sys.executable, "-c", _PROGRAM, url, str(folder)], cwd=tree, env=environment, check=True)


def _build_kernels(tree: Path) -> None:
    """The release's own loops, by its own builder where it has one."""
    kernels = tree / "optimiser" / "kernels"
    if (kernels / "building.py").exists():
        environment = {**os.environ, "PYTHONPATH": str(tree)}
        subprocess.run(
            [sys.executable, "-m", "optimiser.kernels.building"], cwd=tree, env=environment, check=True
        )
        return
    for source in kernels.glob("*.c"):
        library = kernels / f"_{source.stem}.so"
        subprocess.run(["cc", "-O2", "-shared", "-fPIC", "-o", str(library), str(source), "-lm"], check=True)


if __name__ == "__main__":
    main()
