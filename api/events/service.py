"""Reading the record of a project's job: events that were sent, and those that follow from readings and orders."""

from __future__ import annotations

import json

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.events import repository
from api.events.schemas import RecordedEvent, recorded
from api.http.paging import refusing_unknown_places
from api.projects.service import find_project
from api.storage.pages import UnknownPlace


def events_page(
    context: AppContext, caller: Caller, project_id: str, limit: int, after: str | None = None
) -> list[RecordedEvent]:
    """A page of a project's events, the last received first. `after` is the last number of the page before.

    Raises Problem 404, 422 when `after` is no such number.
    """
    with context.storage.reading() as connection, refusing_unknown_places():
        find_project(connection, caller, project_id)
        before = None
        if after is not None:
            before = int(after) if after.isdecimal() else 0
            if not 0 < before <= repository.count_of_events(connection, project_id):
                raise UnknownPlace(after)
        rows = repository.page_of_events(connection, project_id, limit, before)
    return [recorded(row) for row in rows]


def whole_record(context: AppContext, caller: Caller, project_id: str) -> str:
    """The record of the caller's project as `record_of` makes it. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return record_of(connection, project_id)


def record_of(connection: sa.Connection, project_id: str) -> str:
    """The record of a project as the optimiser reads it: a JSON list. Where an event does not say who tells it, that
    is who sent it."""
    return json.dumps(
        [
            {"by": row.received_by, **json.loads(row.document)}
            for row in repository.events_of(connection, project_id)
        ],
        ensure_ascii=False,
    )
