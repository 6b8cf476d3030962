"""Worker processes in the database: who is alive, by the heartbeats that each records."""

from __future__ import annotations

import sqlalchemy as sa

from api import clock
from api.storage.engine import insert_into
from api.storage.tables import workers

_PROBE = "readiness"  # beside the workers: its heartbeat never counts


def record_heartbeat(connection: sa.Connection, worker: str) -> None:
    """Writes that a worker is alive."""
    row = {"name": worker, "started_at": clock.now(), "heartbeat": _database_seconds(connection)}
    statement = insert_into(connection, workers).values(row)
    connection.execute(
        statement.on_conflict_do_update(index_elements=["name"], set_={"heartbeat": row["heartbeat"]})
    )


def deregister(connection: sa.Connection, worker: str) -> None:
    """Takes a worker that stops, or has died, from the list."""
    connection.execute(sa.delete(workers).where(workers.c.name == worker))


def write_and_read(connection: sa.Connection) -> None:
    """Writes a row that stands for no worker, and reads it back. Raises SQLAlchemyError where that cannot be done."""
    row = {"name": _PROBE, "started_at": clock.now(), "heartbeat": 0.0}
    statement = insert_into(connection, workers).values(row)
    connection.execute(
        statement.on_conflict_do_update(
            index_elements=["name"], set_={"started_at": statement.excluded.started_at}
        )
    )
    connection.execute(sa.select(workers.c.started_at).where(workers.c.name == _PROBE)).one()


def live_workers(connection: sa.Connection, dead_after_seconds: float) -> set[str]:
    """The names of the workers with a heartbeat in the last `dead_after_seconds`."""
    rows = connection.execute(
        sa.select(workers.c.name).where(
            workers.c.heartbeat > _database_seconds(connection) - dead_after_seconds
        )
    )
    return {row.name for row in rows}


def _database_seconds(connection: sa.Connection) -> sa.ColumnElement[float]:
    """Seconds on the database's own clock: the workers' clocks may differ."""
    if connection.dialect.name == "sqlite":
        return sa.literal_column("(julianday('now') - 2440587.5) * 86400.0", sa.Float)
    return sa.literal_column("extract(epoch from clock_timestamp())::float", sa.Float)
