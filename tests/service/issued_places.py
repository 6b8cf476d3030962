"""Places with issued orders to meddle with: each a copy of its own of one database, with its anchor and key."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import psycopg
import sqlalchemy as sa
from fastapi.testclient import TestClient

from api.app import create_app
from api.orders.anchor import Anchor, anchor_of
from api.orders.findings import Verified
from api.orders.verification import verify
from api.settings import Settings, sqlite_path, usable_database_url
from api.storage.engine import Storage
from api.storage.guards import dropped_guards, put_guards_back, statements_for
from api.storage.tables import IMMUTABLE
from tests.service.running import POLL_SECONDS, start_worker, wait_for_plan


@dataclass(frozen=True)
class IssuedPlace:
    """A database with a project whose first plans were issued, and whose other plans were not.

    `plans` are all of its plans in the order in which they were made; the first `issued` of them were issued.
    """

    settings: Settings
    project: str
    plans: tuple[str, ...]
    issued: int

    @property
    def anchor(self) -> Anchor:
        """Its anchor."""
        return anchor_of(self.settings)

    @contextmanager
    def client(self) -> Iterator[TestClient]:
        """The service on it, newly started, without a worker."""
        with TestClient(create_app(self.settings), raise_server_exceptions=False) as client:
            yield client

    @contextmanager
    def storage(self) -> Iterator[Storage]:
        """The database."""
        storage = Storage(self.settings.database_url)
        yield storage
        storage.close()

    def verified(self) -> Verified:
        """What a verification finds."""
        with self.storage() as storage:
            return verify(storage, self.anchor)

    def kinds(self) -> list[str]:
        """The kinds of what a verification finds."""
        return [one.kind for one in self.verified().findings]

    def meddle(self, *statements: str, **values: Any) -> None:
        """Does to the database what its triggers forbid, and puts them back, so that nothing else tells of it."""
        with self.storage() as storage, storage.writing() as connection:
            drop_guards(connection)
            for statement in statements:
                connection.execute(sa.text(statement), values)
            put_guards_back(connection, dropped_guards(connection))

    def one(self, query: str, **values: Any) -> Any:
        """The first value that a query finds."""
        with self.storage() as storage, storage.reading() as connection:
            return connection.scalar(sa.text(query), values)

    def copied(self, folder: Path, name: str) -> IssuedPlace:
        """A copy of the database with copies of its anchor and key."""
        folder.mkdir(parents=True, exist_ok=True)
        settings = replace(
            self.settings,
            database_url=_copy_of_database(self.settings.database_url, folder, name),
            anchor_file=str(folder / f"{name}.anchor"),
            signing_key_file=str(folder / f"{name}.signing-key"),
        )
        shutil.copy(self.settings.anchor_path, settings.anchor_path)
        shutil.copy(self.settings.signing_key_path, settings.signing_key_path)
        return replace(self, settings=settings)

    def copy_of_database(self, folder: Path, name: str) -> str:
        """The URL of a copy of the database alone, as it stands now."""
        return _copy_of_database(self.settings.database_url, folder, name)


def issued_place(url: str, folder: Path, project: dict[str, Any], plans: int, issued: int) -> IssuedPlace:
    """A new place with so many plans of a project, of which the first are issued."""
    settings = replace(
        Settings(),
        database_url=usable_database_url(url),
        anchor_file=str(folder / "place.anchor"),
        signing_key_file=str(folder / "place.signing-key"),
        rate_per_minute=0,
    )
    with TestClient(create_app(settings), raise_server_exceptions=False) as client:
        worker = start_worker(url, folder / "worker.log", poll_seconds=POLL_SECONDS, verify_minutes=0)
        try:
            location = client.post("/projects", json=project).headers["Location"]
            made = []
            for number in range(plans):
                if number:
                    wider = [{**gap, "gap_mm": gap["gap_mm"] + 10 * number} for gap in project["gaps"]]
                    etag = client.get(location).headers["ETag"]
                    kept = client.put(location, json={**project, "gaps": wider}, headers={"If-Match": etag})
                    assert kept.status_code == 200
                plan = wait_for_plan(client, client.post(f"{location}/plans").headers["Location"])
                assert plan["status"] == "done"
                made.append(plan["id"])
        finally:
            worker.stop()
        for plan_id in made[:issued]:
            answer = client.post(f"/plans/{plan_id}/issue")
            assert answer.status_code == 201, answer.text
    return IssuedPlace(settings, location.rpartition("/")[2], tuple(made), issued)


def drop_guards(connection: sa.Connection, tables: tuple[str, ...] = IMMUTABLE) -> None:
    """Takes the triggers away that forbid altering rows of tables."""
    dialect = connection.dialect.name
    for table in tables:
        for name in statements_for(dialect, table):
            on = "" if dialect == "sqlite" else f" ON {table}"
            connection.execute(sa.text(f"DROP TRIGGER IF EXISTS {name}{on}"))


def _copy_of_database(url: str, folder: Path, name: str) -> str:
    folder.mkdir(parents=True, exist_ok=True)
    if url.startswith("sqlite"):
        path, copy = sqlite_path(url), folder / f"{name}.sqlite"
        for suffix in ("", "-wal"):
            if path.with_name(path.name + suffix).exists():
                shutil.copy(path.with_name(path.name + suffix), folder / f"{name}.sqlite{suffix}")
        return f"sqlite:///{copy}"
    address = sa.make_url(url)
    unique = f"{name}_{abs(hash(folder))}"
    server = address.set(database="postgres", drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{unique}" TEMPLATE "{address.database}"')
    return address.set(database=unique).render_as_string(hide_password=False)
