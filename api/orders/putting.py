"""What issued orders put on the record, in the database: in the transaction of what it follows from.

The project must be locked by whoever calls these, since events are numbered.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts.service import Caller
from api.changes.repository import log_change
from api.events import repository as events
from api.events.reading import SentEvent
from api.orders import repository
from api.orders.chain import Issued
from api.orders.on_record import NOTHING_PLACED, Line, Placed, events_beside, events_of_revision
from optimiser.model.record import Event, Record
from optimiser.tables.text import counted


@dataclass(frozen=True)
class Known:
    """What a plan knew of when it was made: the ids of the `events` on its record, and what was `standing` of the last
    revision by them, in single units (None: all of it)."""

    events: frozenset[str] = frozenset()
    standing: Mapping[Line, int] | None = None


NOTHING_KNOWN = Known()


def put_on_record(
    connection: sa.Connection,
    caller: Caller,
    last: Issued | None,
    issued: Issued,
    plan_knew: Known,
) -> None:
    """Puts on the record what a revision that is not kept yet orders beyond the `last` one, or what its plan knew
    to stand of it."""
    # the last one may be from before orders were put on record
    put_beside(connection, caller, issued["project_id"])
    before = NOTHING_PLACED if last is None else Placed.of(last["revision"], last["order"])
    added = events_of_revision(
        _supply(connection, issued["project_id"]),
        before if plan_knew.standing is None else replace(before, units=plan_knew.standing),
        Placed.of(issued["revision"], issued["order"], plan_knew.events),
        _moment(),
        caller.who,
    )
    _add(connection, caller, issued["project_id"], added)


def put_beside(
    connection: sa.Connection, caller: Caller, project_id: str, new: Collection[str] = ()
) -> int | None:
    """Sets what issued orders put on record right beside events with `new` ids, which are on record already: the last
    revision where anything had to be set right, else None."""
    found = repository.last_issued(connection, project_id)
    if found is None:
        return None
    last = found[0]
    placed = Placed.of(last["revision"], last["order"])
    added = events_beside(_supply(connection, project_id), new, placed, _moment(), caller.who)
    _add(connection, caller, project_id, added)
    return placed.revision if added else None


def with_what_is_issued(record: Record, issued: Issued | None) -> Record:
    """The record with what the last issued order puts on it, where that was issued before orders were put on record."""
    if issued is None:
        return record
    placed = Placed.of(issued["revision"], issued["order"])
    return Record(events=(*record.events, *events_beside(record, (), placed, _moment(), "")))


def _supply(connection: sa.Connection, project_id: str) -> Record:
    """What is on record as ordered, and what takes something back."""
    documents: Iterable[dict[str, Any]] = (
        json.loads(row.document) for row in events.events_of(connection, project_id)
    )
    told = [one for one in documents if one["event"] in ("ordered", "undone")]
    return Record.model_construct(events=tuple(Event.model_validate(one) for one in told))


def _moment() -> datetime:
    """Now, UTC, to the second, as events tell it."""
    return datetime.fromisoformat(clock.now()).replace(tzinfo=None, microsecond=0)


def _add(connection: sa.Connection, caller: Caller, project_id: str, added: Collection[Event]) -> None:
    if not added:
        return
    added = _under_new_ids(connection, project_id, added)
    sent = (
        SentEvent(event.id, event.model_dump_json(exclude_defaults=True), place)
        for place, event in enumerate(added)
    )
    events.add_events(connection, caller.company_id, project_id, sent, caller.who)
    said = f"{counted(len(added), 'event')} added by an issued order"
    log_change(connection, caller.company_id, project_id, "record of the job", said, caller.who)


def _under_new_ids(connection: sa.Connection, project_id: str, added: Collection[Event]) -> tuple[Event, ...]:
    """Events whose ids are on record already under further ones: after a revision was lost, the record still holds
    what it had put there, and the one before it is put there a second time."""
    taken = {row.event_id for row in events.events_of(connection, project_id)}
    found = []
    for event in added:
        new, again = event.id, 2
        while new in taken:
            new, again = f"{event.id}-{again}", again + 1
        taken.add(new)
        found.append(event if new == event.id else event.model_copy(update={"id": new}))
    return tuple(found)
