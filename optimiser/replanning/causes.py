"""Why a line of the order is other than in the plan before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from optimiser.model.money import Money
from optimiser.model.plan import OrderLine, Plan
from optimiser.model.project import Project

Cause = Literal["survey", "price", "date", "rule", "damage", "cutting"]
"""Gaps or runs measured again; the product's price or pack; the day; the tested detail's rules; what was lost; or,
where none of these touches the line, that boards are cut otherwise."""


@dataclass(frozen=True)
class Reasons:
    """What differs between two plans. `surveyed` and `ruled` are the levels whose gaps or runs, or whose rules, are
    other than they were; `lost` the codes of what was lost since, boards where a piece or a remainder was; `ordered`
    what was ordered since, by level and code."""

    before: Plan
    after: Plan
    surveyed: frozenset[str]
    ruled: frozenset[str]
    lost: frozenset[str]
    ordered: Mapping[tuple[str, str], int]

    @classmethod
    def of(cls, before: Plan, after: Plan) -> Reasons:
        """The reasons between a plan and the next."""
        known = set(before.record.standing)
        since = [event for event in after.record.standing if event not in known]
        new = [event for event in since if event.event == "scrapped"]
        ordered: Counter[tuple[str, str]] = Counter()
        for event in since:
            if event.event == "ordered":
                ordered[event.level, event.code] += event.quantity or 0
        lost = {event.code for event in new if event.code and not event.piece and not event.board}
        if any(event.piece or event.board for event in new):
            lost |= after.project.building.boards.keys()
        return cls(
            before,
            after,
            _levels_that_differ(before.project, after.project),
            frozenset(
                run.level
                for run in after.project.runs
                if run.run in before.project.building.runs
                and before.project.building.detail_of(run.run) != after.project.building.detail_of(run.run)
            ),
            frozenset(lost),
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
        return None if found is None else found.needed_on

    def price_before(self, code: str) -> Money | None:
        """A pack's price in the plan before; None where it had no such product."""
        product = self.before.project.building.products.get(code)
        return None if product is None else product.price

    def causes(self, level: str, code: str, deliver_on: date | None, packs: int) -> tuple[Cause, ...]:
        """Why a line changed; none where it did not."""
        found: list[Cause] = []
        more = packs != self._open_packs(level, code) and packs != 0
        if more:
            earlier = self._until(level)
            if self.surveyed & earlier:
                found.append("survey")
            if self.ruled & earlier:
                found.append("rule")
            if code in self.lost:
                found.append("damage")
        old, new = (plan.project.building.products.get(code) for plan in (self.before, self.after))
        if old is not None and new is not None and (old.price, old.per_pack) != (new.price, new.per_pack):
            found.append("price")
        day = self.day_before(level, code)
        if day is not None and day != deliver_on:
            found.append("date")
        if more and not found:
            found.append("cutting")
        return tuple(found)

    def _open_packs(self, level: str, code: str) -> int:
        """The packs that the plan before orders and that were not ordered since."""
        line = self.line_before(level, code)
        if line is None:
            return 0
        return max(0, line.packs * line.per_pack - self.ordered.get((level, code), 0)) // line.per_pack

    def _until(self, level: str) -> frozenset[str]:
        """The levels whose needs a delivery's packs follow from: it and those before, whose packs are carried on."""
        place = self.after.project.building.place_of_level
        return frozenset(name for name in place if place[name] <= place.get(level, len(place)))


def _levels_that_differ(before: Project, after: Project) -> frozenset[str]:
    """The levels whose runs or gaps are other than they were."""
    old, new = before.building, after.building
    return frozenset(
        run.level
        for run in after.runs
        if old.runs.get(run.run) != run or old.gaps.get(run.run) != new.gaps[run.run]
    )
