"""Goods against order: what was ordered for each delivery, what came of it, and what is short and when it is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from optimiser.model.plan import Plan
from optimiser.model.record import Event, Record
from optimiser.ordering.working_days import working_days_of
from optimiser.replanning.receiving import ReceivedLine, days_of, received

DAMAGED = "damaged on arrival"


@dataclass(frozen=True)
class GoodsLine:
    """A product of a level's delivery, counted singly. `damaged` of what `came` is damaged or lost since. `reorder_by`
    is the last day on which what is short can be ordered and still come in time."""

    code: str
    kind: str
    ordered: int
    came: int
    damaged: int
    per_pack: int
    pack_name: str
    reorder_by: date | None
    notes: tuple[str, ...]

    @property
    def short(self) -> int:
        """What is ordered and cannot be used: it did not come, came damaged, or is lost since."""
        return max(0, self.ordered - self.came + self.damaged)

    @property
    def due(self) -> int:
        """What is ordered and did not come."""
        return max(0, self.ordered - self.came)


@dataclass(frozen=True)
class GoodsOfLevel:
    """A level's delivery; `later` are those after it that bring the same, from which something may be brought
    forward."""

    level: str
    needed_on: date | None
    lines: tuple[GoodsLine, ...]
    later: Mapping[str, tuple[str, ...]]

    @property
    def short(self) -> tuple[GoodsLine, ...]:
        """The products of which something came, and less than was ordered."""
        return tuple(line for line in self.lines if line.came and line.short)

    @property
    def not_come(self) -> tuple[GoodsLine, ...]:
        """The products of which nothing came: they may come with another truck."""
        return tuple(line for line in self.lines if not line.came)

    @property
    def begun(self) -> bool:
        """Whether anything of it came."""
        return any(line.came for line in self.lines)


def goods(plan: Plan, record: Record) -> tuple[GoodsOfLevel, ...]:
    """Every delivery that something was ordered or came for, in order of delivery."""
    lines = [line for line in received(plan.project, record) if line.ordered or line.delivered]
    notes = _notes(record)
    building, calendar = plan.project.building, working_days_of(plan.project.project.country)
    in_order = [level.level for level in plan.project.levels_in_order()]
    ordered = {(line.level, line.code) for line in lines if line.ordered}

    def told(line: ReceivedLine) -> GoodsLine:
        product = building.products[line.code]
        _, reorder_by = days_of(plan.project, line.level, product, calendar)
        return GoodsLine(
            line.code,
            product.kind,
            line.ordered,
            line.delivered,
            line.damaged,
            product.per_pack,
            product.pack_name,
            reorder_by,
            tuple(notes.get((line.level, line.code), ())),
        )

    return tuple(
        GoodsOfLevel(
            level,
            building.levels[level].needed_on,
            tuple(told(line) for line in here),
            {
                line.code: tuple(after for after in in_order[place:] if (after, line.code) in ordered)
                for line in here
            },
        )
        for place, level in enumerate(in_order, start=1)
        if (here := [line for line in lines if line.level == level])
    )


def _notes(record: Record) -> Mapping[tuple[str, str], list[str]]:
    """What was noted when goods came, by level and code."""
    found: dict[tuple[str, str], list[str]] = {}
    for event in record.standing:
        arrived = event.event == "delivered" or (
            event.event == "scrapped" and event.code and event.note.startswith(DAMAGED)
        )
        if arrived and event.note:
            found.setdefault((event.level, event.code), []).append(_told(event))
    return found


def _told(event: Event) -> str:
    return f"{event.at.day} {event.at:%b}, {event.by or 'not said who'}: {event.note}"
