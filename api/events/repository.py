"""The events of a project in the database: added, never altered (triggers refuse it)."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

import sqlalchemy as sa

from api import clock
from api.events.reading import SentEvent
from api.storage.numbering import next_number
from api.storage.tables import record_events

_AT_A_TIME = 500  # SQLite and PostgreSQL limit the values of one statement


def add_events(
    connection: sa.Connection, company_id: str, project_id: str, events: Iterable[SentEvent], who: str
) -> None:
    """Adds events to the end of a project's record. The project must be locked: they are numbered here."""
    moment = clock.now()
    rows = [
        {
            "project_id": project_id,
            "number": number,
            "company_id": company_id,
            "event_id": event.id,
            "document": event.document,
            "received_at": moment,
            "received_by": who,
        }
        for number, event in enumerate(events, start=next_number(connection, record_events, project_id))
    ]
    if rows:
        connection.execute(sa.insert(record_events), rows)


def ids_of_events(connection: sa.Connection, project_id: str) -> frozenset[str]:
    """The senders' ids of all events of a project."""
    return frozenset(
        connection.scalars(
            sa.select(record_events.c.event_id).where(record_events.c.project_id == project_id)
        )
    )


def documents_with_ids(connection: sa.Connection, project_id: str, ids: Collection[str]) -> dict[str, str]:
    """The events of a project that have one of these ids, as JSON text by id."""
    found: dict[str, str] = {}
    wanted = list(ids)
    for first in range(0, len(wanted), _AT_A_TIME):
        rows = connection.execute(
            sa.select(record_events.c.event_id, record_events.c.document).where(
                record_events.c.project_id == project_id,
                record_events.c.event_id.in_(wanted[first : first + _AT_A_TIME]),
            )
        )
        found |= {row.event_id: row.document for row in rows}
    return found


def count_of_events(connection: sa.Connection, project_id: str) -> int:
    """How many events a project has."""
    return (
        connection.scalar(
            sa.select(sa.func.count())
            .select_from(record_events)
            .where(record_events.c.project_id == project_id)
        )
        or 0
    )


def events_of(connection: sa.Connection, project_id: str) -> list[sa.Row[Any]]:
    """All events of a project in the order in which they were received."""
    return list(
        connection.execute(
            sa.select(record_events)
            .where(record_events.c.project_id == project_id)
            .order_by(record_events.c.number)
        )
    )


def page_of_events(
    connection: sa.Connection, project_id: str, limit: int, before: int | None
) -> list[sa.Row[Any]]:
    """A project's events, the last received first; `before`: only those with a smaller number."""
    query = sa.select(record_events).where(record_events.c.project_id == project_id)
    if before is not None:
        query = query.where(record_events.c.number < before)
    return list(connection.execute(query.order_by(record_events.c.number.desc()).limit(limit)))
