"""Goods against order: what was ordered for each delivery, what came of it, and what is short and when it is needed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.record import Event, Record
from optimiser.ordering.working_days import working_days_of

DAMAGED = "damaged on arrival"


@dataclass(frozen=True)
class GoodsLine:
    """A product of a level's delivery, counted singly. `damaged` of what `came` is of no use. `reorder_by` is the last
    day on which what is short can be ordered and still come in time."""

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
        """What is ordered and cannot be used: it did not come, or came damaged."""
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


def goods(plan: Plan, record: Record, issued: Mapping[str, Any] | None) -> tuple[GoodsOfLevel, ...]:
    """Every delivery that something was ordered for, in order of delivery.

    What was ordered is on record; where no event says so, it is what the newest issued order says (None: nothing).
    """
    ordered = _ordered(record, issued)
    came, damaged, notes = _came(record)
    building, calendar = plan.project.building, working_days_of(plan.project.project.country)
    found = []
    in_order = [level.level for level in plan.project.levels_in_order()]
    for place, level in enumerate(in_order):
        lines = []
        for code, product in building.products.items():
            key = level, code
            if not (ordered[key] or came[key]):
                continue
            needed_on = building.levels[level].needed_on
            _, by = calendar.delivery_and_order(needed_on, product.lead_days)
            lines.append(
                GoodsLine(
                    code,
                    product.kind,
                    ordered[key],
                    came[key],
                    damaged[key],
                    product.per_pack,
                    product.pack_name,
                    by,
                    tuple(notes.get(key, ())),
                )
            )
        if lines:
            later = {
                line.code: tuple(after for after in in_order[place + 1 :] if ordered[after, line.code])
                for line in lines
            }
            found.append(GoodsOfLevel(level, building.levels[level].needed_on, tuple(lines), later))
    return tuple(found)


def _ordered(record: Record, issued: Mapping[str, Any] | None) -> Counter[tuple[str, str]]:
    found: Counter[tuple[str, str]] = Counter()
    for event in record.standing:
        if event.event == "ordered":
            found[event.level, event.code] += event.quantity or 0
    if not found and issued is not None:
        for line in issued["order"]["lines"]:
            found[line["level"], line["code"]] += line["packs"] * line["per_pack"]
    return found


def _came(
    record: Record,
) -> tuple[Counter[tuple[str, str]], Counter[tuple[str, str]], dict[tuple[str, str], list[str]]]:
    came: Counter[tuple[str, str]] = Counter()
    damaged: Counter[tuple[str, str]] = Counter()
    notes: dict[tuple[str, str], list[str]] = {}
    for event in record.standing:
        key = event.level, event.code
        if event.event == "delivered":
            came[key] += event.quantity or 0
        elif event.event == "scrapped" and event.code and event.note.startswith(DAMAGED):
            damaged[key] += event.quantity or 0
        else:
            continue
        if event.note:
            notes.setdefault(key, []).append(_told(event))
    return came, damaged, notes


def _told(event: Event) -> str:
    return f"{event.at.day} {event.at:%b}, {event.by or 'not said who'}: {event.note}"
