"""How a job stands as its building's page shows it: what is done by level, on the rack, on order, and what happened."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from api.events.schemas import RecordedEvent
from api.pages.begun_plan import BegunPlan
from optimiser.errors.problems import CannotBeDone
from optimiser.model.record import Event, Record
from optimiser.replanning.happened import happened
from optimiser.replanning.supply import fitted_needs, supplied, used_units
from optimiser.takeoff.quantities import unit_of

HAPPENED = {
    "ordered": "Ordered",
    "delivered": "Delivered",
    "cut": "Cut",
    "kept": "Kept",
    "scrapped": "Scrapped",
    "fitted": "Fitted",
    "inspected": "Inspected",
    "measured": "Measured",
    "undone": "Taken back",
}


@dataclass(frozen=True)
class LevelDone:
    """How many of a level's pieces are cut (the fitted ones too) and fitted."""

    level: str
    pieces: int
    cut: int
    fitted: int


@dataclass(frozen=True)
class Racked:
    """Something at hand by its name: a remainder, a piece that serves nowhere now, stock from the start."""

    name: str
    kind: str
    code: str
    size: str
    quantity: int


@dataclass(frozen=True)
class Supply:
    """A product in single boards, brackets, anchors or rolls: what is on order is not delivered yet."""

    code: str
    board: bool
    ordered: int
    delivered: int
    on_order: int
    used: int
    lost: int


@dataclass(frozen=True)
class JobState:
    """How the job stands; `wrong` says why the record does not fit the plan, and nothing else is known then."""

    levels: tuple[LevelDone, ...] = ()
    racked: tuple[Racked, ...] = ()
    supplies: tuple[Supply, ...] = ()
    wrong: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        """All pieces of the plan, done or not."""
        return sum(level.pieces for level in self.levels)

    @property
    def cut(self) -> int:
        """Pieces that are cut, fitted or not."""
        return sum(level.cut for level in self.levels)

    @property
    def boards_on_order(self) -> int:
        """Whole boards that are ordered and not delivered yet."""
        return sum(item.on_order for item in self.supplies if item.board)

    @property
    def fitted(self) -> int:
        """Pieces that are fitted."""
        return sum(level.fitted for level in self.levels)


@dataclass(frozen=True)
class ToldEvent:
    """A line of the record: when it happened, what in words, who says so, and whether it was taken back since."""

    number: int
    at: str
    happened: str
    what: str
    by: str
    note: str
    taken_back: bool


def job_state(begun: BegunPlan, record: Record) -> JobState:
    """How the job of a plan stands after everything on record."""
    made = begun.plan
    try:
        state = happened(made, record)
    except CannotBeDone as error:
        return JobState(wrong=tuple(error.reasons))
    fitted = fitted_needs(begun.read, made.pieces, state.fitted)
    supplies = supplied(made.project, used_units(state, fitted), state)
    cut = begun.by_level(state.cut.union(begun.names.cut) - state.spoilt)
    done = begun.by_level(state.fitted)
    return JobState(
        tuple(
            LevelDone(
                level.level,
                begun.pieces[level.level],
                cut[level.level],
                done[level.level],
            )
            for level in made.project.levels_in_order()
        ),
        tuple(
            Racked(item.name, item.kind, item.code, f"{item.length_mm} x {item.width_mm}", item.quantity)
            for _, item in sorted(state.rack.items())
        ),
        tuple(
            Supply(
                item.code,
                item.code in made.project.building.boards,
                item.ordered,
                item.delivered,
                max(0, item.ordered - item.delivered),
                # a roll that is begun counts whole
                ceil(Fraction(item.used, unit_of(made.project.product(item.code)))),
                item.lost,
            )
            for item in supplies
        ),
    )


def told_events(events: Iterable[RecordedEvent], record: str) -> tuple[ToldEvent, ...]:
    """Events in words; `record` is all of it as JSON text, for what takes back what."""
    whole = Record(events=tuple(Event.model_validate(one) for one in json.loads(record)))
    undone = {event.undoes for event in whole.events if event.event == "undone"}
    by_id = {event.id: event for event in whole.events}
    return tuple(
        ToldEvent(
            event.number,
            f"{event.at.day} {event.at:%b} {event.at.year}, {event.at:%H:%M}",
            HAPPENED[event.event],
            _taken_back(by_id[event.undoes]) if event.event == "undone" else what_of(event),
            event.by or event.received_by,
            event.note,
            event.id in undone,
        )
        for event in events
    )


def _taken_back(event: Event) -> str:
    return f"that it was {event.event}: {what_of(event)}"


def what_of(event: Event) -> str:
    """What an event is about: '12 x B-120 for L01', 'piece L1-N-003', 'board 17 until L02'."""
    size = f"{event.length_mm} x {event.width_mm} mm" if event.length_mm and event.width_mm else ""
    if event.piece:
        return f"piece {event.piece}"
    if event.board:
        until = f" until {event.level}" if event.level else ""
        return f"board or remainder {event.board}{until}" + (f", {size}" if size else "")
    if event.code:
        number = f"{event.quantity:,} x " if event.quantity else ""
        return f"{number}{event.code}" + (f" for {event.level}" if event.level else "")
    return f"all of {event.level}" if event.level else ""
