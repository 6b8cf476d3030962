"""Making a backup while the service runs, and putting one into an empty place."""

from __future__ import annotations

import hashlib
from contextlib import ExitStack
from pathlib import Path

import sqlalchemy as sa

from api import clock
from api.backup.archive import (
    ANCHOR,
    Archive,
    Manifest,
    UnusableBackup,
    Writing,
    lines_of,
    member_of,
    whole_private_file,
)
from api.jobs.model import OPEN
from api.jobs.queue import JobQueue
from api.orders.anchor import Anchor, anchor_of, knowledge_of
from api.orders.anchoring import attend, begin_from, record_restored, software
from api.orders.findings import Verified
from api.orders.verification import verify
from api.settings import Settings, sqlite_path
from api.storage.engine import Storage
from api.storage.tables import MADE_AGAIN, jobs, metadata
from api.storage.trouble import UnusableDatabase, unusable

_PRIVATE_TO_A_PLACE = ("workers", "sessions")  # who is alive, and who is signed in, there
_LEFT_OUT = (*_PRIVATE_TO_A_PLACE, *MADE_AGAIN)


def back_up(storage: Storage, anchor: Anchor, path: Path) -> Manifest:
    """Everything that the database holds as it stands at one moment, photographs and documents included, and the
    anchor of then, in one file that its owner alone reads.

    The signing key is not in it: whoever had the file could then write other orders and sign them. The queue's own
    tables are not in it either: `restore` queues the unfinished jobs again. Raises FileExistsError, UnusableDatabase.
    """
    with whole_private_file(path) as file:
        writing = Writing(file)
        with ExitStack() as until_read:
            with anchor.locked():  # no order is between its intention and its issuing
                connection = until_read.enter_context(storage.snapshot())
                anchored = anchor.path.read_bytes() if anchor.exists else b""
            try:
                schema = storage.schema(connection)
                there = set(sa.inspect(connection).get_table_names())
                for table in metadata.sorted_tables:
                    if table.name in there and table.name not in _LEFT_OUT:
                        columns, rows = _rows(connection, table.name)
                        writing.add_table(table.name, columns, rows)
            except sa.exc.SQLAlchemyError as error:
                raise unusable(storage.url, error) from error
        writing.add_bytes(ANCHOR, anchored)
        return writing.finish(
            made_at=clock.now(),
            software=software(),
            schema=schema,
            database="sqlite" if storage.embedded else "postgresql",
        )


def restore(settings: Settings, path: Path) -> tuple[Manifest, Verified]:
    """Puts a backup into the database that the settings name, which must be empty, brings it to the newest form, and
    verifies every issued order.

    An anchor that stands there already is kept when it goes on from the backup's: what it knows of later orders is then
    found to be missing. Where there is none, the backup's is put back; where its key is not there, a new key and anchor
    are made that carry over what it knew. Raises UnusableBackup, UnusableDatabase.
    """
    archive = Archive(path)
    archive.verify()
    anchor = anchor_of(settings)
    _refuse_another_anchor(anchor, archive)
    _refuse_a_used_place(settings)
    storage = Storage(settings.database_url)
    if archive.manifest.schema not in storage.known_schemas():
        raise UnusableBackup(
            f"{path} was made by a newer version of this software (its tables are of form"
            f" {archive.manifest.schema}): restore"
            " it with that version."
        )
    try:
        storage.upgrade(archive.manifest.schema)
        try:
            with storage.writing() as connection:
                _fill(connection, archive)
            _compare(storage, archive)
        except (sa.exc.SQLAlchemyError, UnusableBackup) as error:
            _empty_again(storage)
            if isinstance(error, UnusableBackup):
                raise
            raise unusable(settings.database_url, error) from error
        storage.upgrade()
        _put_anchor(storage, anchor, archive)
        record_restored(storage, anchor, archive.manifest.made_at, archive.sha256())
        _queue_again(storage)
        return archive.manifest, verify(storage, anchor)
    finally:
        storage.close()


def _rows(connection: sa.Connection, table: str) -> tuple[list[str], sa.CursorResult[tuple[object, ...]]]:
    """The columns and the rows of a table in the order of its key, read as they are asked for."""
    key = sa.inspect(connection).get_pk_constraint(table)["constrained_columns"]
    types = {column["name"]: column["type"] for column in sa.inspect(connection).get_columns(table)}
    columns = sorted(types)
    found = sa.table(table, *map(sa.column, columns))
    bytewise = "BINARY" if connection.dialect.name == "sqlite" else "C"  # the same order in every database
    order = [
        sa.collate(found.c[name], bytewise) if isinstance(types[name], sa.String) else found.c[name]
        for name in key
    ]
    query = sa.select(found).order_by(*order)
    return columns, connection.execution_options(stream_results=True, yield_per=20).execute(query)


def _refuse_a_used_place(settings: Settings) -> None:
    """Raises UnusableDatabase unless the database is empty."""
    if settings.embedded:
        path = sqlite_path(settings.database_url)
        if path.exists() and path.stat().st_size:
            raise UnusableDatabase(
                f"The database file {path} is there already: a backup is restored into an empty place only."
                " Move it away, or"
                " name another file with DATABASE_URL."
            )
        return
    storage = Storage(settings.database_url)
    try:
        with storage.reading() as connection:
            there = set(sa.inspect(connection).get_table_names()) & {*metadata.tables, "alembic_version"}
    except sa.exc.SQLAlchemyError as error:
        raise unusable(settings.database_url, error) from error
    finally:
        storage.close()
    if there:
        raise UnusableDatabase(
            "The database has tables of this software already: a backup is restored into an empty place only."
            " Make an empty"
            " database, and name it with DATABASE_URL."
        )


def _refuse_another_anchor(anchor: Anchor, archive: Archive) -> None:
    if not anchor.exists:
        return
    there, kept = anchor.path.read_bytes(), archive.bytes_of(ANCHOR)
    if not kept or not there.startswith(kept):
        raise UnusableDatabase(
            f"The anchor {anchor.path} does not go on from this backup's: it is another database's, or was"
            " begun anew since."
            " Name another file with BARRIER_ORDERS_ANCHOR_FILE, or move it away."
        )


def _fill(connection: sa.Connection, archive: Archive) -> None:
    for table in metadata.sorted_tables:
        if table.name not in archive.manifest.rows:
            continue
        for row in archive.rows_of(table.name):
            connection.execute(sa.insert(sa.table(table.name, *map(sa.column, row))), row)
        numbered = [column.name for column in table.primary_key if column is table.autoincrement_column]
        if numbered and connection.dialect.name == "postgresql":
            connection.exec_driver_sql(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', '{numbered[0]}'),"
                f" greatest((SELECT max({numbered[0]}) FROM {table.name}), 1))"
            )


def _compare(storage: Storage, archive: Archive) -> None:
    """Every table as it stands now against the backup. Raises UnusableBackup where one differs."""
    with storage.snapshot() as connection:
        for table in archive.manifest.rows:
            digest = hashlib.sha256()
            for line in lines_of(*_rows(connection, table)):
                digest.update(line)
            if digest.hexdigest() != archive.manifest.members[member_of(table)][0]:
                raise UnusableBackup(
                    f"Table {table} does not read as it was backed up; nothing was restored."
                )


def _empty_again(storage: Storage) -> None:
    """Takes away what was put there before it failed: the place is as empty as it was."""
    storage.close()
    if storage.embedded:
        path = sqlite_path(storage.url)
        for suffix in ("", "-wal", "-shm"):
            path.with_name(path.name + suffix).unlink(missing_ok=True)
        return
    with storage.writing() as connection:
        for table in reversed(metadata.sorted_tables):
            connection.exec_driver_sql(f"DROP TABLE IF EXISTS {table.name} CASCADE")
            connection.exec_driver_sql(f"DROP FUNCTION IF EXISTS {table.name}_keep() CASCADE")
        connection.exec_driver_sql("DROP TABLE IF EXISTS alembic_version")


def _put_anchor(storage: Storage, anchor: Anchor, archive: Archive) -> None:
    kept = archive.bytes_of(ANCHOR)
    if not kept or anchor.exists:
        attend(storage, anchor)
    elif anchor.has_key and not knowledge_of(kept, anchor.key()).faults:
        with anchor.locked() as held:
            held.put(kept)
        attend(storage, anchor)
    else:
        begin_from(storage, anchor, knowledge_of(kept, b""))


def _queue_again(storage: Storage) -> None:
    """Hands the jobs that were unfinished when the backup was made to the workers again."""
    queue = JobQueue(storage)
    try:
        with storage.writing() as connection:
            for job_id in connection.scalars(sa.select(jobs.c.id).where(jobs.c.status.in_(OPEN))).all():
                queue.put(connection, job_id)
    finally:
        queue.close()
