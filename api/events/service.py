"""Adding events to the record of a project's job, and reading it.

Sending an event twice counts once, by the sender's own id. What is on record is never altered: a mistake is taken back
by an event of its own.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

import sqlalchemy as sa

from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.events import repository
from api.events.reading import MOST_EVENTS, SentEvent, read_events
from api.events.schemas import RecordedEvent, SentEvents, recorded
from api.http.problem_details import Fault, Problem
from api.limited_process import LimitReached, run_limited
from api.projects.reading import Unreadable, Unusable
from api.projects.service import document_of_version, find_project, lock_project
from api.projects.uploads import as_problem


def send_events(context: AppContext, caller: Caller, project_id: str, body: bytes) -> SentEvents:
    """Adds the events of a JSON list to the project's record: all of them, or none where any has a fault.

    Raises Problem 404; 400 and 422 for what cannot be used, with every fault; 413 for more than is read at a time.
    """
    with context.storage.reading() as connection:
        project = find_project(connection, caller, project_id)
        known = repository.ids_of_events(connection, project_id)
        survey = document_of_version(connection, project_id, project.version).decode()
    settings = context.settings
    try:
        sent: list[SentEvent] = run_limited(
            read_events,
            body,
            known,
            survey,
            seconds=settings.parse_seconds,
            megabytes=settings.parse_megabytes,
        )
    except (Unreadable, LimitReached) as error:
        raise as_problem(error) from None
    except Unusable as error:
        raise _refused(error.faults, error.more) from None
    if len(sent) > MOST_EVENTS:
        raise Problem(413, "content-too-large", f"Send at most {MOST_EVENTS:,} events at a time.")
    return _added(context, caller, project_id, sent)


def _added(context: AppContext, caller: Caller, project_id: str, sent: list[SentEvent]) -> SentEvents:
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        there = repository.documents_with_ids(connection, project_id, [event.id for event in sent])
        other = [
            event
            for event in sent
            if event.id in there and json.loads(there[event.id]) != json.loads(event.document)
        ]
        if other:
            raise _refused([_says_other(event) for event in other])
        new = [event for event in sent if event.id not in there]
        repository.add_events(connection, caller.company_id, project_id, new, caller.who)
        if new:
            said = f"{len(new)} event{'' if len(new) == 1 else 's'} added"
            log_change(connection, caller.company_id, project_id, "record of the job", said, caller.who)
        count = repository.count_of_events(connection, project_id)
    return SentEvents(added=len(new), known=len(sent) - len(new), events=count)


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


def _refused(faults: Iterable[dict[str, object]], more: int = 0) -> Problem:
    listed = list(faults)
    count = len(listed) + more
    return Problem(
        422,
        "unusable-input",
        f"The events have {count} fault{'' if count == 1 else 's'}, each is listed with its mend; none is added.",
        errors=listed[:200],
        more=more + max(0, len(listed) - 200),
    )


def _says_other(event: SentEvent) -> dict[str, object]:
    fault = Fault(
        place=f"record[{event.place}].id",
        message=f"the event {event.id} is on record already and says something else",
        mend="give a new event an id of its own; take back what was wrong with an event 'undone'",
    )
    return {**fault.model_dump(), "value": event.id}
