"""A database of every released form is brought to the newest one and keeps its orders verifiable; one that cannot be
used is one plain sentence."""

from __future__ import annotations

import gzip
import io
import os
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from pypdf import PdfReader

from api.app import create_app
from api.operator_commands import in_plain_words
from api.orders.anchor import anchor_of
from api.orders.anchoring import opened
from api.orders.verification import verify
from api.settings import Settings, usable_database_url
from api.storage.engine import Storage
from api.storage.tables import compressed, restored
from api.storage.trouble import UnusableDatabase
from optimiser.errors.problems import CannotBeDone
from tests.service.conftest import DATABASES, empty_database
from tests.service.running import environment

RELEASED = Path(__file__).parent / "released"
_NOBODY = 65534  # Debian's user without rights
NEWEST = "0009"
NEVER_RELEASED = {"0002", "0005", "0006", "0008"}  # without the one that follows
FORMS = sorted(path.name.partition(".")[0] for path in RELEASED.glob("*.sqlite.gz"))


def test_every_form_but_the_newest_has_its_databases() -> None:
    migrations = Path(__file__).parents[2] / "api" / "storage" / "migrations" / "versions"
    forms = sorted(path.name[1:5] for path in migrations.glob("v*.py"))
    assert forms[-1] == NEWEST, "keep a database of the last release first: released/make.py"
    assert set(FORMS) | NEVER_RELEASED | {NEWEST} == set(forms)
    assert all((RELEASED / f"{form}.postgresql.sql.gz").exists() for form in FORMS)


@pytest.fixture(params=DATABASES)
def kind(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def _unpacked(form: str, kind: str, request: pytest.FixtureRequest, folder: Path) -> Settings:
    """A place with a released database."""
    if kind == "sqlite":
        file = folder / "released.sqlite"
        file.write_bytes(gzip.decompress((RELEASED / f"{form}.sqlite.gz").read_bytes()))
        url = f"sqlite:///{file}"
    else:
        url = empty_database(kind, request, f"released_{form}_{folder.name}"[:60])
        with psycopg.connect(url, autocommit=True) as connection:
            connection.execute(gzip.decompress((RELEASED / f"{form}.postgresql.sql.gz").read_bytes()))
    for what, name in (("anchor", "anchor"), ("signing-key", "key")):  # from 0004 on
        kept = RELEASED / f"{form}.{kind}.{what}"
        if kept.exists():
            (folder / name).write_bytes(kept.read_bytes())
            (folder / name).chmod(0o600)
    return replace(
        Settings(),
        database_url=usable_database_url(url),
        anchor_file=str(folder / "anchor"),
        signing_key_file=str(folder / "key"),
        rate_per_minute=0,
    )


@pytest.mark.parametrize("form", FORMS)
def test_it_upgrades_and_its_orders_stay_what_was_issued(
    form: str, kind: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    settings = _unpacked(form, kind, request, tmp_path)
    storage = Storage(settings.database_url)
    with storage.reading() as connection:
        assert storage.schema(connection) == form
        before = connection.execute(
            sa.text(
                "SELECT project_id, revision, plan_id, document, hash FROM issued_orders ORDER BY revision"
            )
        ).all()
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        with storage.reading() as connection:
            assert storage.schema(connection) == storage.newest_schema()
            after = connection.execute(
                sa.text(
                    "SELECT project_id, revision, plan_id, document, hash FROM issued_orders ORDER BY revision"
                )
            ).all()
        assert after == before
        assert len(after) == 2
        verified = verify(storage, anchor_of(settings))
        documents = 2 if form < "0004" else 36  # before, nothing but the plan was kept
        assert (verified.findings, verified.revisions, verified.documents) == ((), 2, documents)
        project, plan = after[0].project_id, after[0].plan_id
        listed = client.get(f"/v1/projects/{project}/orders").json()
        assert [one["revision"] for one in listed["items"]] == [1, 2]
        assert listed["chain_intact"] is True
        pdf = client.get(f"/plans/{plan}/order.pdf").content
        assert "rev. 1, superseded by 2" in PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
        assert (
            client.post(f"/plans/{plan}/issue").status_code == 200
        )  # issued before: its revision, unchanged
    _alter_the_plan(storage, plan)
    assert [one.kind for one in verify(storage, anchor_of(settings)).findings] == ["plan-altered"]
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        assert client.get(f"/plans/{plan}/plan.json").json()["order"]["total"] != "99999.99"
    storage.close()


def _alter_the_plan(storage: Storage, plan: str) -> None:
    with storage.writing() as connection:
        kept = connection.scalar(sa.text("SELECT document FROM job_results WHERE job_id = :id"), {"id": plan})
        altered = re.sub(rb'("total": ?)"[0-9.]+"', rb'\1"99999.99"', restored(kept))
        assert b"99999.99" in altered
        connection.execute(
            sa.text("UPDATE job_results SET document = :document WHERE job_id = :id"),
            {"document": compressed(altered), "id": plan},
        )


# What cannot be used


def _newer(path: Path) -> None:
    database = sqlite3.connect(path)
    database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.commit()
    database.close()


def _truncate(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _corrupt(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[:100] = b"no database at all" * 5 + b".........."
    path.write_bytes(bytes(content))


def _corrupt_within(path: Path) -> None:
    content = bytearray(path.read_bytes())
    for page in range(4096, len(content), 4096):
        content[page : page + 64] = b"\xff" * 64
    path.write_bytes(bytes(content))


def _read_only(path: Path) -> None:
    path.chmod(0o444)
    path.parent.chmod(0o555)


def _no_folder(path: Path) -> None:
    path.unlink()
    path.parent.chmod(0o700)
    path.parent.rename(path.parent.with_name("elsewhere"))


USELESS: dict[Callable[[Path], None], str] = {
    _newer: "was written by a newer version of this software: its tables are of form 9999",
    _truncate: "is corrupt or truncated",
    _corrupt: "is corrupt: it does not begin as an SQLite database does",
    _corrupt_within: "is corrupt or truncated",
    _read_only: "is read-only|cannot be opened: let this user write",
    _no_folder: "cannot be made: there is no folder",
}


@pytest.mark.parametrize("spoil", USELESS, ids=lambda spoil: spoil.__name__.strip("_"))
def test_a_database_that_cannot_be_used_is_one_sentence(
    spoil: Callable[[Path], None], tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    folder = tmp_path / "place"
    folder.mkdir()
    settings = _unpacked("0003", "sqlite", request, folder)
    settings = replace(settings, anchor_file=f"{tmp_path}/anchor", signing_key_file=f"{tmp_path}/key")
    spoil(folder / "released.sqlite")
    with _without_rights(tmp_path), pytest.raises(CannotBeDone) as told, in_plain_words(settings):
        opened(settings)
    if folder.exists():
        folder.chmod(0o755)
    (sentence,) = told.value.reasons
    assert re.search(USELESS[spoil], sentence), sentence
    assert "\n" not in sentence


@contextmanager
def _without_rights(folder: Path) -> Iterator[None]:
    """As a user who may do no more than the files' modes say, which root may; it can come to the folder."""
    if os.geteuid() != 0:
        yield
        return
    for parent in (folder, *folder.parents):
        if len(parent.parts) > 2:
            parent.chmod(0o755)
    for path in folder.rglob("*"):
        os.chown(path, _NOBODY, _NOBODY)
    os.seteuid(_NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


def test_serve_prints_the_sentence_alone_and_leave_with_1(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    _unpacked("0003", "sqlite", request, tmp_path)
    _truncate(tmp_path / "released.sqlite")
    env = environment(f"sqlite:///{tmp_path}/released.sqlite")
    program = "from optimiser.commands.main import main; main(['serve', '--port', '0'])"
    told = subprocess.run(
        [sys.executable, "-c", program], env=env, capture_output=True, text=True, check=False
    )
    assert (told.returncode, told.stdout) == (1, "")
    assert re.fullmatch(r"The database file .* is corrupt or truncated: [^\n]*\n", told.stderr)


def test_a_database_file_that_was_emptied_is_not_begun_anew(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    settings = _unpacked("0003", "sqlite", request, tmp_path)
    with TestClient(create_app(settings)):
        pass
    (tmp_path / "released.sqlite").write_bytes(b"")
    with pytest.raises(Exception, match="is empty, and orders were issued from it: it was truncated"):
        create_app(settings)


def test_a_postgresql_that_does_not_answer_or_is_newer_is_one_sentence(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    settings = _unpacked("0003", "postgresql", request, tmp_path)
    storage = Storage(settings.database_url)
    with storage.writing() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(UnusableDatabase, match="newer version of this software: its tables are of form 9999"):
        storage.upgrade()
    storage.close()
    away = Storage("postgresql+psycopg://nobody@127.0.0.1:1/none")
    sentence = r"^The database none on 127\.0\.0\.1:1 does not answer as it should: [^\n]*$"
    with pytest.raises(UnusableDatabase, match=sentence):
        away.upgrade()
    away.close()
