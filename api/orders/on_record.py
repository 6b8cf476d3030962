"""What an issued order puts on the record of its project's job: what is on order, so that nobody need tell it.

A revision puts its difference to the one before, an `ordered` event for each level and product; where it orders fewer,
events of earlier ones are taken back. Their ids follow from revision and line, and no one else may send such ids.

An order may be told by hand as well, before it is issued or after. For a level and product that is one and the same
order, and the larger number counts: what is told by hand is taken off what the revision put on record, once, and comes
back when it is taken back. What is told without a level is taken off the lines in the order's sequence. What the plan
that is issued knew of by hand was ordered before it, and counts beside it. Whoever takes back an event of a revision
says that so much of it was cancelled: it is not put on record again.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from optimiser.model.record import Event, Record

OWN_IDS = "issued-"
"""What the ids of these events begin with."""
MOST_OF_AN_EVENT = 10**6  # single units

Line = tuple[str, str]
"""A level and a product's code."""


@dataclass(frozen=True)
class Placed:
    """What an issued order orders in all, in single units by line; `known` are the ids of the events that were on the
    record of the plan that it was issued from."""

    revision: int
    units: Mapping[Line, int]
    known: frozenset[str] = frozenset()

    @classmethod
    def of(cls, revision: int, order: Mapping[str, Any], known: Iterable[str] = ()) -> Placed:
        """The order as `plan.json` holds it."""
        units: Counter[Line] = Counter()
        for line in order["lines"]:
            units[line["level"], line["code"]] += line["packs"] * line["per_pack"]
        return cls(revision, units, frozenset(known))


NOTHING_PLACED = Placed(0, {})


def events_of_revision(
    record: Record, last: Placed, placed: Placed, at: datetime, by: str
) -> tuple[Event, ...]:
    """What a revision that is issued now puts on the record: its difference to the `last` one."""
    ledger = _Ledger.of(record, last, placed.revision, at, by)
    since = Counter[Line]()
    for event in ledger.told_by_hand:
        if event.id not in placed.known:
            since[event.level, event.code] += event.quantity or 0
    for line in {**placed.units, **last.units}:
        change = placed.units.get(line, 0) - last.units.get(line, 0)
        if change > 0:
            told = min(change, since[line], max(0, ledger.by_hand[line] - ledger.counted(line)))
            told += ledger.take_unnamed(line[1], min(change - told, since["", line[1]]))
            change -= told
        ledger.change(line, change, f"revision {placed.revision}")
    return tuple(ledger.events)


def events_beside(
    record: Record, new: Collection[str], placed: Placed, at: datetime, by: str
) -> tuple[Event, ...]:
    """What follows for what the last revision put on record when events with `new` ids are told by hand, which
    `record` holds already. An order that was issued before orders were put on record is put there now."""
    because = sorted(new)
    ledger = _Ledger.of(record, placed, placed.revision, at, by, tuple(because[-1:]))
    for event in ledger.told_by_hand:
        if event.id not in new:
            continue
        left = event.quantity or 0
        lines = (
            [(event.level, event.code)]
            if event.level
            else [line for line in placed.units if line[1] == event.code]
        )
        for line in lines:
            taken = min(left, ledger.own[line])
            left -= taken
            ledger.change(line, -taken, f"told by hand: {event.id}")
    for line in placed.units:
        short = max(0, ledger.counted(line) - ledger.by_hand[line])
        covered = min(short, ledger.by_hand["", line[1]])
        ledger.by_hand["", line[1]] -= covered
        ledger.change(line, short - covered, f"revision {placed.revision}")
    return tuple(ledger.events)


@dataclass
class _Ledger:
    """The standing events of a record by line: the service's `own`, those told `by_hand`, and own ones that were
    `cancelled` by hand; `events` are those to add."""

    placed: Placed
    revision: int
    at: datetime
    by: str
    because: tuple[str, ...]
    own_events: dict[Line, list[Event]] = field(default_factory=dict)
    told_by_hand: list[Event] = field(default_factory=list)
    own: Counter[Line] = field(default_factory=Counter)
    by_hand: Counter[Line] = field(default_factory=Counter)
    cancelled: Counter[Line] = field(default_factory=Counter)
    events: list[Event] = field(default_factory=list)

    @classmethod
    def of(
        cls,
        record: Record,
        placed: Placed,
        revision: int,
        at: datetime,
        by: str,
        because: tuple[str, ...] = (),
    ) -> _Ledger:
        """The ledger of a record, where what was `placed` is put on it by a `revision`."""
        made = cls(placed, revision, at, by, because)
        undone_by = {event.undoes: event for event in record.events if event.event == "undone"}
        for event in record.events:
            if event.event != "ordered":
                continue
            line, number = (event.level, event.code), event.quantity or 0
            taken_back = undone_by.get(event.id) if event.id else None
            if not is_own(event):
                if taken_back is None:
                    made.told_by_hand.append(event)
                    made.by_hand[line] += number
            elif taken_back is None:
                made.own_events.setdefault(line, []).append(event)
                made.own[line] += number
            elif not is_own(taken_back):
                made.cancelled[line] += number
        return made

    def counted(self, line: Line) -> int:
        """How many of what was placed are not on record as the service's own, since they are told by hand."""
        return max(0, self.placed.units.get(line, 0) - self.own[line] - self.cancelled[line])

    def take_unnamed(self, code: str, most: int) -> int:
        """At most so many of what is told without a level and counts for no line yet; they count from now on."""
        elsewhere = sum(
            max(0, self.counted(line) - self.by_hand[line]) for line in self.placed.units if line[1] == code
        )
        free = max(0, self.by_hand["", code] - elsewhere)
        taken = min(most, free)
        self.by_hand["", code] -= taken
        return taken

    def change(self, line: Line, number: int, note: str) -> None:
        """So many more of a line on record, or fewer: the newest events are taken back, and what stays of them put on
        record again."""
        if number > 0:
            self._order(line, number, note)
        elif number < 0:
            less = min(-number, self.own[line])
            taken = 0
            while taken < less:
                event = self.own_events[line].pop()
                taken += event.quantity or 0
                self._add(line, ("taken back", event.id), event="undone", undoes=event.id, note=note)
            self.own[line] -= taken
            if taken > less:
                self._order(line, taken - less, f"revision {self.revision}, the rest of it")

    def _order(self, line: Line, number: int, note: str) -> None:
        self.own[line] += number
        level, code = line
        for part, first in enumerate(range(0, number, MOST_OF_AN_EVENT)):
            event = self._add(
                line,
                ("ordered", part, len(self.events)) if self.because else ("ordered", part),
                event="ordered",
                level=level,
                code=code,
                quantity=min(MOST_OF_AN_EVENT, number - first),
                note=note,
            )
            self.own_events.setdefault(line, []).append(event)

    def _add(self, line: Line, what: tuple[object, ...], **fields: Any) -> Event:
        follows_from = json.dumps([self.revision, *line, *self.because, *what])
        digest = hashlib.sha256(follows_from.encode()).hexdigest()[:20]
        event = Event(at=self.at, by=self.by, id=f"{OWN_IDS}{self.revision}-{digest}", **fields)
        self.events.append(event)
        return event


def is_own(event: Event) -> bool:
    """Whether an event was put on record by issuing an order."""
    return event.id.startswith(OWN_IDS)
