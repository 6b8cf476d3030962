"""Why a line of the order is other than in the plan before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from optimiser.model.money import Money
from optimiser.model.order import OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.record import Event
from optimiser.ordering.working_days import WorkingDays, working_days_of

Cause = Literal["survey", "price", "date", "rule", "damage", "cutting"]
"""Gaps or runs measured again; the product's price or pack; the day; the tested detail's rules; what was lost; or,
where none of these touches the line, that boards are cut otherwise."""


@dataclass(frozen=True)
class _Lost:
    """A piece or a remainder by its `name`, or units of a product (name ''); the `codes` that may replace it."""

    name: str
    level: str
    codes: frozenset[str]


@dataclass(frozen=True)
class Reasons:
    """What differs between two plans. `calendar` has the working days of the one before; `surveyed` and `ruled` are the
    levels whose gaps or runs, or whose rules, are other than they were; `lost` what was lost since; `ordered` what was
    ordered since, by level and code."""

    before: Plan
    after: Plan
    calendar: WorkingDays
    surveyed: frozenset[str]
    ruled: frozenset[str]
    lost: tuple[_Lost, ...]
    ordered: Mapping[tuple[str, str], int]

    @classmethod
    def of(cls, before: Plan, after: Plan) -> Reasons:
        """The reasons between a plan and the next."""
        known = set(before.record.standing)
        lost = [
            _lost(before, event)
            for event in after.record.standing
            if event.event == "scrapped" and event not in known
        ]
        ordered = ordered_by_line(after)
        ordered.subtract(ordered_by_line(before))
        return cls(
            before,
            after,
            working_days_of(before.project.project.country),
            _levels_that_differ(before.project, after.project),
            frozenset(
                run.level
                for run in after.project.runs
                if run.run in before.project.building.runs
                and before.project.building.detail_of(run.run) != after.project.building.detail_of(run.run)
            ),
            tuple(lost),
            ordered,
        )

    def line_before(self, level: str, code: str) -> OrderLine | None:
        """The line of the plan before."""
        lines = self.before.order.lines
        return next((line for line in lines if (line.level, line.code) == (level, code)), None)

    def day_before(self, level: str, code: str) -> date | None:
        """When a level's delivery was to come; None where it has no day or the plan before has no such level."""
        line = self.line_before(level, code)
        if line is not None:
            return line.deliver_on
        found = self.before.project.building.levels.get(level)
        if found is None or found.needed_on is None:
            return None
        return self.calendar.on_or_before(found.needed_on)

    def day_that_stands(self, level: str, code: str) -> date | None:
        """When the plan before has a line delivered whose level is needed on the day on which it was: what is ordered
        of it still comes then, also where limits or prices bring it before that day. None where there is no such."""
        line = self.line_before(level, code)
        old, new = (plan.project.building.levels.get(level) for plan in (self.before, self.after))
        same = old is not None and new is not None and old.needed_on == new.needed_on
        return line.deliver_on if line is not None and same else None

    def price_before(self, code: str) -> Money | None:
        """A pack's price in the plan before; None where it had no such product."""
        product = self.before.project.building.products.get(code)
        return None if product is None else product.price

    def causes(self, level: str, code: str, deliver_on: date | None, packs: int) -> tuple[Cause, ...]:
        """Why a line changed; none where it did not."""
        more = packs != self._open_packs(level, code) and packs != 0
        found: list[Cause] = [*self._of_quantity(level, code)] if more else []
        old, new = (plan.project.building.products.get(code) for plan in (self.before, self.after))
        if old is not None and new is not None and (old.price, old.per_pack) != (new.price, new.per_pack):
            found.append("price")
        day = self.day_before(level, code)
        if day is not None and day != deliver_on:
            found.append("date")
        if more and not found:
            found.append("cutting")
        return tuple(found)

    def of_quantity(self, level: str, code: str) -> tuple[Cause, ...]:
        """Why a line's quantity is other than before, where it is."""
        return tuple(self._of_quantity(level, code)) or ("cutting",)

    def damaged(self, changed: Iterable[tuple[str, str]]) -> dict[tuple[str, str], tuple[str, ...]]:
        """The pieces and remainders, by name, that were lost since, each with the first of the `changed` lines (in the
        order of delivery) that can replace it."""
        place = self.after.project.building.place_of_level
        lines = sorted(changed, key=lambda line: place.get(line[0], -1))
        found: dict[tuple[str, str], tuple[str, ...]] = {}
        for lost in self.lost:
            line = next((line for line in lines if lost.name and self._replaces(line, lost)), None)
            if line is not None:
                found[line] = (*found.get(line, ()), lost.name)
        return found

    def _replaces(self, line: tuple[str, str], lost: _Lost) -> bool:
        level, code = line
        return code in lost.codes and (not lost.level or lost.level in self._until(level))

    def _of_quantity(self, level: str, code: str) -> Iterator[Cause]:
        earlier = self._until(level)
        if self.surveyed & earlier:
            yield "survey"
        if self.ruled & earlier:
            yield "rule"
        if any(self._replaces((level, code), lost) for lost in self.lost):
            yield "damage"

    def _open_packs(self, level: str, code: str) -> int:
        """The packs that the plan before orders and that were not ordered since."""
        line = self.line_before(level, code)
        if line is None:
            return 0
        open_units = max(0, line.packs * line.per_pack - self.ordered.get((level, code), 0))
        return -(-open_units // line.per_pack)  # the rest of a pack takes a pack

    def _until(self, level: str) -> frozenset[str]:
        """The levels whose needs a delivery's packs follow from: it and those before, whose packs are carried on."""
        place = self.after.project.building.place_of_level
        return frozenset(name for name in place if place[name] <= place.get(level, len(place)))


def ordered_by_line(plan: Plan) -> Counter[tuple[str, str]]:
    """What is on a plan's record as ordered, in single units by level and code."""
    found: Counter[tuple[str, str]] = Counter()
    for event in plan.record.standing:
        if event.event == "ordered":
            found[event.level, event.code] += event.quantity or 0
    return found


def _lost(before: Plan, event: Event) -> _Lost:
    """What an event says is lost: of a piece the code of its board, of a remainder any board's where none is known."""
    if not event.piece and not event.board:
        return _Lost("", event.level, frozenset({event.code}))
    piece = next((piece for piece in before.pieces if piece.id == event.piece), None)
    if piece is not None:
        return _Lost(piece.id, piece.level, frozenset(piece.boards))
    item = next((item for item in before.job.at_hand if item.name == event.board), None)
    boards = frozenset(before.project.building.boards)
    return _Lost(event.piece or event.board, "", frozenset({item.code}) if item else boards)


def _levels_that_differ(before: Project, after: Project) -> frozenset[str]:
    """The levels whose runs or gaps are other than they were."""
    old, new = before.building, after.building
    return frozenset(
        run.level
        for run in after.runs
        if old.runs.get(run.run) != run or old.gaps.get(run.run) != new.gaps[run.run]
    )
