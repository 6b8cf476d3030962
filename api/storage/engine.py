"""The database: opened, brought to the newest form, and used in short transactions.

The embedded SQLite runs with a write-ahead log. A transaction that writes takes its lock at once (BEGIN
IMMEDIATE), so that what it reads first still holds when it writes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.dialects import postgresql, sqlite

from api.storage.trouble import newer_schema, unusable

MIGRATIONS = Path(__file__).parent / "migrations"
_MIGRATION_LOCK = 7_238_116_301  # any number that nothing else in the database locks


class Storage:
    """A database and its transactions.

    On SQLite, `flushed` says whether every transaction is on the disk before it is answered for. Workers leave
    that to the next one that is: after a power cut a job is made again, but nothing that was answered is lost.
    """

    def __init__(self, url: str, *, pool_size: int = 20, flushed: bool = True) -> None:
        self.url = url
        self.embedded = url.startswith("sqlite")
        if self.embedded:
            self.engine = sa.create_engine(url, connect_args={"isolation_level": "IMMEDIATE", "timeout": 30})
            sa.event.listen(self.engine, "connect", _set_up_flushed if flushed else _set_up_unflushed)
        else:
            self.engine = sa.create_engine(
                url,
                pool_size=pool_size,
                max_overflow=10,
                pool_timeout=10,
                pool_pre_ping=True,
                connect_args={"connect_timeout": 5, "application_name": "barrier-orders"},
            )

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that reads."""
        with self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A transaction that writes: committed at its end, undone when an exception passes."""
        with self.engine.begin() as connection:
            if self.embedded:
                connection.exec_driver_sql("BEGIN IMMEDIATE")
            yield connection

    @contextmanager
    def snapshot(self) -> Iterator[sa.Connection]:
        """A transaction that reads, and sees the database as it stands now until its end, whoever writes meanwhile."""
        with self.engine.connect() as connection:
            if self.embedded:
                connection.exec_driver_sql("BEGIN")
            else:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            connection.execute(sa.select(1).select_from(sa.text("alembic_version")))
            yield connection

    def upgrade(self, to: str = "head") -> None:
        """Brings the tables to their newest form, or to that of an earlier migration. Of several processes that do
        so at once, one does it.

        Raises UnusableDatabase, one sentence, for a database that was written by a newer version, is corrupt, truncated
        or read-only, or does not answer.
        """
        config = _migrations()
        try:
            if self.embedded:
                _make_private(Path(str(self.engine.url.database)))
            with self.writing() as connection:
                if not self.embedded:
                    connection.execute(
                        sa.text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _MIGRATION_LOCK}
                    )
                self.refuse_newer_schema(connection)
                config.attributes["connection"] = connection
                command.upgrade(config, to)
        except (sa.exc.SQLAlchemyError, OSError) as error:
            raise unusable(self.url, error) from error

    def schema(self, connection: sa.Connection) -> str:
        """The migration that the tables stand at; '' where there are none."""
        return MigrationContext.configure(connection).get_current_revision() or ""

    def newest_schema(self) -> str:
        """The migration that this version's tables stand at."""
        return str(ScriptDirectory.from_config(_migrations()).get_current_head())

    def refuse_newer_schema(self, connection: sa.Connection) -> None:
        """Raises UnusableDatabase when a newer version has written the database."""
        found = self.schema(connection)
        if found and found not in self.known_schemas():
            raise newer_schema(self.url, found, self.newest_schema())

    def known_schemas(self) -> set[str]:
        """The migrations that this version knows."""
        return {script.revision for script in ScriptDirectory.from_config(_migrations()).walk_revisions()}

    def close(self) -> None:
        """Closes every connection."""
        self.engine.dispose()


def _migrations() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def _make_private(path: Path) -> None:
    """An empty file that its owner alone reads and writes, where there is none; what SQLite puts beside it is as
    private."""
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


def insert_into(connection: sa.Connection, table: sa.Table) -> Any:
    """An INSERT that can be told what to do where the row is there already, in the database's own words."""
    return (sqlite if connection.dialect.name == "sqlite" else postgresql).insert(table)


def _set_up_sqlite(connection: Any, synchronous: str) -> None:
    cursor = connection.cursor()
    pragmas = ("journal_mode=WAL", f"synchronous={synchronous}", "foreign_keys=ON", "busy_timeout=30000")
    for pragma in pragmas:
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _set_up_flushed(connection: Any, _: Any) -> None:
    _set_up_sqlite(connection, "FULL")


def _set_up_unflushed(connection: Any, _: Any) -> None:
    _set_up_sqlite(connection, "NORMAL")
