"""Backups: made while the service runs, everything in one file, put into an empty place and verified: the rehearsal."""

from __future__ import annotations

import json
import shutil
import threading
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from api.backup.archive import ANCHOR, MANIFEST, Archive, UnusableBackup
from api.backup.service import back_up, restore
from api.orders.anchor import anchor_of
from api.orders.anchoring import acknowledge
from api.settings import Settings, sqlite_path, usable_database_url
from api.storage.trouble import UnusableDatabase
from tests.service.conftest import DATABASES, empty_database
from tests.service.issued_places import IssuedPlace
from tests.service.running import start_worker, wait_for_plan

JPEG = b"\xff\xd8\xff\xe0" + b"an invented picture" * 20
ABOUT = {"at": "2027-05-03T10:00:00", "what": "joint", "piece": "L1-N-003", "by": "crew 2"}


def _empty(request: pytest.FixtureRequest, kind: str, folder: Path) -> Settings:
    """An empty place to restore into."""
    folder.mkdir(parents=True, exist_ok=True)
    url = usable_database_url(empty_database(kind, request, f"restored_{kind}_{folder.parent.name}"[:60]))
    return replace(
        Settings(),
        database_url=url,
        anchor_file=str(folder / "restored.anchor"),
        signing_key_file=str(folder / "restored.signing-key"),
        rate_per_minute=0,
    )


def _backed_up(place: IssuedPlace, file: Path) -> Path:
    with place.storage() as storage:
        back_up(storage, place.anchor, file)
    return file


def _rows(place: IssuedPlace) -> dict[str, int]:
    tables = ("projects", "project_versions", "jobs", "job_results", "issued_orders", "issued_documents")
    more = ("record_events", "photographs", "changes", "idempotency_keys")
    return {table: place.one(f"SELECT count(*) FROM {table}") for table in (*tables, *more)}


def _other(place: IssuedPlace) -> str:
    return "postgresql" if place.settings.embedded else "sqlite"


def test_the_rehearsal_while_the_service_runs_into_an_empty_place_of_either_database(
    issued_copy: IssuedPlace, tmp_path: Path, request: pytest.FixtureRequest, small_project: dict[str, Any]
) -> None:
    place, file = issued_copy, tmp_path / "all.backup"
    writing = threading.Event()
    with place.client() as client:
        photograph = f"/v1/projects/{place.project}/photographs/one"
        assert client.put(photograph, params=ABOUT, content=JPEG).status_code == 201
        waiting = client.post(f"/v1/projects/{place.project}/plans").json()["id"]

        def keep_writing() -> None:
            while not writing.is_set():
                client.post("/projects", json=small_project)

        busy = threading.Thread(target=keep_writing)
        busy.start()
        _backed_up(place, file)
        writing.set()
        busy.join()
        documents = {
            name: client.get(f"/plans/{place.plans[0]}/{name}").content for name in ("order.pdf", "plan.json")
        }
    assert oct(file.stat().st_mode & 0o777) == "0o600"
    for kind in DATABASES:
        settings = _empty(request, kind, tmp_path / kind)
        shutil.copy(place.settings.signing_key_path, settings.signing_key_path)
        made, verified = restore(settings, file)
        assert (verified.findings, verified.revisions) == ((), 2)
        assert made.rows["photographs"] == 1
        restored = replace(place, settings=settings)
        assert restored.one("SELECT count(*) FROM projects") == made.rows["projects"]
        with restored.client() as client:
            assert client.get(photograph).content == JPEG
            for name, content in documents.items():
                assert client.get(f"/plans/{place.plans[0]}/{name}").content == content
            assert client.post(f"/plans/{place.plans[2]}/issue").json()["revision"] == 3
            if kind != _other(place):  # the job that waited is made there
                worker = start_worker(settings.database_url, tmp_path / kind / "log", verify_minutes=0)
                assert wait_for_plan(client, f"/v1/plans/{waiting}")["status"] == "done"
                worker.kill()
        assert restored.kinds() == []


def test_what_stands_in_the_write_ahead_log_alone_is_backed_up_and_the_files_copy_lacks_it(
    issued_copy: IssuedPlace, tmp_path: Path, small_project: dict[str, Any]
) -> None:
    place = issued_copy
    if not place.settings.embedded:
        pytest.skip("the embedded database has such a log")
    with place.client() as client:
        kept = client.post("/projects", json=small_project).json()["id"]
        alone = tmp_path / "alone.sqlite"
        shutil.copy(sqlite_path(place.settings.database_url), alone)
        copied = sa.create_engine(f"sqlite:///{alone}")
        with copied.connect() as connection:
            assert (
                connection.scalar(sa.text("SELECT count(*) FROM projects WHERE id = :id"), {"id": kept}) == 0
            )
        copied.dispose()
        archive = Archive(_backed_up(place, tmp_path / "all.backup"))
    assert kept in {row["id"] for row in archive.rows_of("projects")}


def test_the_key_is_not_in_it_and_a_place_without_the_key_begins_a_new_one_that_knows_the_numbers(
    issued_copy: IssuedPlace, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    place = issued_copy
    place.meddle(
        "DELETE FROM issued_documents WHERE revision = 2", "DELETE FROM issued_orders WHERE revision = 2"
    )
    with place.storage() as storage:
        acknowledge(storage, place.anchor, "A. Operator")
    file = _backed_up(place, tmp_path / "all.backup")
    key = place.settings.signing_key_path.read_bytes().strip()
    with zipfile.ZipFile(file) as members:
        assert not any(key in members.read(name) for name in members.namelist())
    settings = _empty(request, "sqlite" if place.settings.embedded else "postgresql", tmp_path / "new")
    _, verified = restore(settings, file)
    assert verified.findings == ()
    assert [who.split(" on ")[0] for _, who in verified.acknowledged] == ["A. Operator"]
    assert anchor_of(settings).key() not in (b"", key)
    restored = replace(place, settings=settings)
    with restored.client() as client:
        assert client.post(f"/plans/{place.plans[2]}/issue").json()["revision"] == 3


def test_beside_an_anchor_that_knows_later_orders_these_are_found_to_be_missing(
    issued_copy: IssuedPlace, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    place = issued_copy
    file = _backed_up(place, tmp_path / "all.backup")
    with place.client() as client:
        assert client.post(f"/plans/{place.plans[2]}/issue").json()["revision"] == 3
    kind = "sqlite" if place.settings.embedded else "postgresql"
    settings = replace(
        _empty(request, kind, tmp_path / "again"),
        anchor_file=str(place.settings.anchor_path),
        signing_key_file=str(place.settings.signing_key_path),
    )
    _, verified = restore(settings, file)
    assert [(one.kind, one.revision) for one in verified.findings] == [("older-backup", 3)]


def test_a_place_that_is_not_empty_or_has_anothers_anchor_is_left_as_it_is(
    issued_copy: IssuedPlace, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    place = issued_copy
    file = _backed_up(place, tmp_path / "all.backup")
    before = _rows(place)
    with pytest.raises(UnusableDatabase, match="into an empty place only"):
        restore(place.settings, file)
    assert _rows(place) == before
    settings = _empty(request, "sqlite", tmp_path / "anothers")
    settings.anchor_path.write_bytes(b'{"kind":"begun"}\n')
    with pytest.raises(UnusableDatabase, match="does not go on from this backup's"):
        restore(settings, file)
    assert not sqlite_path(settings.database_url).exists()
    with pytest.raises(FileExistsError), place.storage() as storage:
        back_up(storage, place.anchor, file)


@pytest.fixture(scope="module")
def good_backup(issued_template: IssuedPlace, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _backed_up(issued_template, tmp_path_factory.mktemp("good") / "good.backup")


def _truncated(path: Path, into: Path) -> None:
    into.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def _no_backup(path: Path, into: Path) -> None:
    into.write_bytes(b"PK\x03\x04 something else")


def _missing(path: Path, into: Path) -> None:
    into.unlink(missing_ok=True)


def _rewritten(path: Path, into: Path) -> None:
    """A member exchanged, the manifest left as it was."""
    with zipfile.ZipFile(path) as members, zipfile.ZipFile(into, "w") as other:
        for name in members.namelist():
            content = members.read(name)
            other.writestr(
                name, content.replace(b"this machine", b"that machine") if "changes" in name else content
            )


def _of_a_newer_schema(path: Path, into: Path) -> None:
    with zipfile.ZipFile(path) as members, zipfile.ZipFile(into, "w") as other:
        for name in members.namelist():
            content = members.read(name)
            if name == MANIFEST:
                content = json.dumps({**json.loads(content), "schema": "9999"}).encode()
            other.writestr(name, content)


DAMAGE = {
    _truncated: "is no backup of this software, or is truncated or damaged",
    _no_backup: "is no backup of this software",
    _missing: "There is no file",
    _rewritten: r"is damaged: tables/changes\.jsonl is not what was backed up",
    _of_a_newer_schema: "made by a newer version of this software",
}


@pytest.mark.parametrize("damage", DAMAGE, ids=lambda damage: damage.__name__.strip("_"))
def test_a_damaged_backup_is_refused_in_a_sentence_and_nothing_is_put_in_place(
    good_backup: Path, damage: Any, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    file = tmp_path / "damaged.backup"
    damage(good_backup, file)
    settings = _empty(request, "sqlite", tmp_path / "place")
    with pytest.raises(UnusableBackup, match=DAMAGE[damage]):
        restore(settings, file)
    assert not sqlite_path(settings.database_url).exists()
    assert not settings.anchor_path.exists()


def test_the_manifest_says_what_is_in_it(good_backup: Path) -> None:
    archive = Archive(good_backup)
    archive.verify()
    assert archive.manifest.rows["issued_orders"] == 2
    assert archive.manifest.rows["issued_documents"] > 20
    assert set(archive.manifest.members) == {
        ANCHOR,
        *(f"tables/{table}.jsonl" for table in archive.manifest.rows),
    }
