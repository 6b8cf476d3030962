"""The record: what happened on the job, event by event. It only grows; a mistake is undone by an event of its own."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Literal, Self

from pydantic import Field, model_validator

from optimiser.model.immutable import Immutable
from optimiser.model.table import Millimetres, Table

EventKind = Literal[
    "ordered", "delivered", "cut", "kept", "scrapped", "fitted", "inspected", "measured", "undone"
]
EVENT_KINDS: tuple[EventKind, ...] = (
    "ordered", "delivered", "cut", "kept", "scrapped", "fitted", "inspected", "measured", "undone",
)  # fmt: skip


_BOARD_NUMBER = re.compile(r"[BS]?0*(\d+)(?:\.\d+)?", re.ASCII)


def board_number(written: str) -> int | None:
    """The layout's number in what is written on a board, such as 17, B017 or B017.2; None where it is none."""
    found = _BOARD_NUMBER.fullmatch(written)
    return int(found[1]) if found else None


class Event(Table):
    """One thing that happened. Which fields count depends on what it was:

    - ordered, delivered: `quantity` single boards, brackets, anchors or rolls of `code`, for `level`
    - cut: a `piece`; or of a `board` (a layout's number) all that is due until `level`, everything without one; or all
      pieces of a `level`
    - kept: a remainder of `board` (or the remainder itself, by its name) as it was measured, `length_mm` x `width_mm`
    - scrapped: a `piece`; a remainder, by its name or by its `board` and size; or `quantity` of `code` from the stock
    - fitted, inspected: a `piece`, or all pieces of a `level`
    - measured: a `level`; its gaps are in the newest survey
    - undone: takes back the event whose `id` is in `undoes`

    `id` is the sender's own, so that an event that is sent twice counts once; `by` is who says so.
    """

    at: datetime
    event: EventKind
    level: str = ""
    code: str = ""
    quantity: int | None = Field(default=None, ge=1, le=10**6)
    board: str = ""
    piece: str = ""
    length_mm: Millimetres | None = None
    width_mm: Millimetres | None = None
    note: str = ""
    id: str = ""
    by: str = ""
    undoes: str = ""


class Record(Immutable):
    """The events in the order in which they were written down."""

    events: tuple[Event, ...] = ()

    @model_validator(mode="after")
    def _ids_are_unique(self) -> Self:
        ids = [event.id for event in self.events if event.id]
        if len(set(ids)) != len(ids):
            twice = next(one for one in ids if ids.count(one) > 1)
            raise ValueError(f"two events have the id {twice}")
        known = set(ids)
        for event in self.events:
            if event.undoes and event.undoes not in known:
                raise ValueError(f"an event undoes {event.undoes}, which is the id of no event")
        return self

    def with_events(self, events: tuple[Event, ...]) -> Record:
        """The record with these events at its end; one that it has already, by its id or in every field, once."""
        ids = {event.id for event in self.events if event.id}
        known = set(self.events)
        more: list[Event] = []
        for event in events:
            if (event.id and event.id in ids) or event in known:
                continue
            known.add(event)
            ids |= {event.id} - {""}
            more.append(event)
        return Record(events=(*self.events, *more))

    @property
    def standing(self) -> tuple[Event, ...]:
        """The events that are not undone, in order; what undoes them left out too."""
        undone = {event.undoes for event in self.events if event.event == "undone"}
        return tuple(
            event
            for event in self.events
            if event.event != "undone" and not (event.id and event.id in undone)
        )
