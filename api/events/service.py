"""Reading the record of a project's job: events that were sent, and those that follow from readings and orders."""

from __future__ import annotations

import json

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.events import repository
from api.events.schemas import RecordedEvent, recorded
from api.http.problem_details import Problem
from api.projects.service import find_project


def events_page(
    context: AppContext, caller: Caller, project_id: str, limit: int, after: str | None = None
) -> list[RecordedEvent]:
    """A page of a project's events, the last received first. `after` is the last number of the page before.

    Raises Problem 404, 422 when `after` is no such number.
    """
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        before = None if after is None else _number(after)
        if before is not None and not 0 < before <= repository.count_of_events(connection, project_id):
            raise _no_such_place()
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


def _number(after: str) -> int:
    if not after.isdecimal():
        raise _no_such_place()
    return int(after)


def _no_such_place() -> Problem:
    return Problem(422, "unusable-input", "`after` names no item of this list: send the last page's `next`.")
