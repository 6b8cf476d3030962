"""A plan's deliveries on their days, and other days for them with the quantities that the plan has.

Nothing is cut or ordered anew here: packs, boards opened and remainders are the plan's. What moves is when they come
and when the levels need them, which is all that a limit of truck, crane and site asks for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from optimiser.model.order import Delivery, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import DeliveryLimits, Level, Project
from optimiser.ordering.delivery_days import DeliveryDays
from optimiser.ordering.running_sum import RunningSum
from optimiser.ordering.site_floor import SiteFloor
from optimiser.ordering.site_storage import UseDays
from optimiser.ordering.working_days import ONE_DAY, WorkingDays, working_days_of
from optimiser.tables.deliveries import served


@dataclass(frozen=True)
class Dates:
    """The day on which each line of a `DatedPlan` arrives, and by level the day on which it is needed."""

    arrives: tuple[date, ...]
    needed: Mapping[str, date]


@dataclass(frozen=True)
class Step:
    """From a day on this area stands on site, in mm2 (of face, or of floor where boards are stacked)."""

    day: date
    area_mm2: int


@dataclass(frozen=True)
class DatedPlan:
    """A plan all of whose deliveries have their days.

    `lines` are those of the order that bring packs, `brought` by delivery the numbers of its lines, `planned` the
    dates as the plan has them.
    """

    plan: Plan
    calendar: WorkingDays
    floor: SiteFloor
    lines: tuple[OrderLine, ...]
    brought: tuple[tuple[int, ...], ...]
    planned: Dates

    @classmethod
    def of(cls, plan: Plan) -> DatedPlan | None:
        """A plan's deliveries; None where it has none, or where a level of the order has no day."""
        lines = tuple(line for line in plan.order.lines if line.packs)
        used = {line.level for line in plan.order.lines}
        needed = {
            level.level: level.needed_on for level in plan.project.levels if level.needed_on is not None
        }
        arrives = [line.deliver_on for line in lines if line.deliver_on is not None]
        if not lines or len(arrives) < len(lines) or not used <= needed.keys():
            return None
        project = plan.project
        floor = SiteFloor.of(project, plan.pieces, plan.layouts, plan.usable_left_over or (), plan.order)
        return cls(
            plan,
            working_days_of(project.project.country),
            floor,
            lines,
            _lines_of(plan.deliveries, lines),
            Dates(tuple(arrives), needed),
        )

    @property
    def project(self) -> Project:
        """The plan's project."""
        return self.plan.project

    @cached_property
    def limits(self) -> DeliveryLimits:
        """The limits of deliveries and site; without any, those of an empty row."""
        return self.project.delivery_limits or DeliveryLimits()

    @cached_property
    def levels(self) -> tuple[Level, ...]:
        """The levels of the order, in order of delivery."""
        used = {line.level for line in self.plan.order.lines}
        return tuple(level for level in self.project.levels_in_order() if level.level in used)

    @cached_property
    def lead_days(self) -> tuple[int, ...]:
        """The working days from order to arrival of each line."""
        return tuple(self.project.product(line.code).lead_days for line in self.lines)

    @cached_property
    def areas(self) -> tuple[int, ...]:
        """What each line takes on site, in the floor's mm2 / parts."""
        return tuple(self.floor.of_lines((line,)) for line in self.lines)

    def day_of(self, dates: Dates, place: int) -> date:
        """The day of a delivery, by its place in the plan's list from 0."""
        return dates.arrives[self.brought[place][0]]

    def delivery_days(self, dates: Dates) -> DeliveryDays:
        """The days on which deliveries may come, as the first level's day has them."""
        first = min(dates.needed[line.level] for line in self.lines)
        return DeliveryDays.of(self.limits, self.calendar, first)

    def floor_with(self, dates: Dates) -> SiteFloor:
        """The floor when the levels cut their boards on these days."""
        latest = max(dates.needed.values())
        days = {
            level.level: dates.needed.get(level.level, latest).toordinal() for level in self.project.levels
        }
        used = {level.level for level in self.levels}
        return replace(self.floor, use=UseDays.on(self.project.levels, days, used, dated=True))

    def moved(self, dates: Dates, place: int, day: date) -> Dates:
        """The dates when a delivery comes on another day: what it brings comes then, and is needed then.

        Its levels that set its day are needed on the new one, and every one that would be needed before; where it was
        brought forward for levels that are all needed later, all of them are. What else such a level gets comes with
        it at the latest. Raises IndexError for a delivery that the plan has not.
        """
        here = self.brought[place]
        days, old = self.delivery_days(dates), self.day_of(dates, place)
        levels = dict.fromkeys(self.lines[number].level for number in here)
        setting = {level for level in levels if days.on_or_before(dates.needed[level]) in (old, None)}
        needed = {
            level: day for level in levels if not setting or level in setting or dates.needed[level] < day
        }
        arrives = [
            day if number in here else min(at, needed[line.level]) if line.level in needed else at
            for number, (line, at) in enumerate(zip(self.lines, dates.arrives, strict=True))
        ]
        return Dates(tuple(arrives), {**dates.needed, **needed})

    def with_needs(self, needs: Mapping[str, date]) -> Dates:
        """The planned dates with other days of some levels: what came on such a level's last day of delivery, or would
        come too late, comes on its new last day. Names that the plan has not are left out."""
        known = {level: day for level, day in needs.items() if level in self.planned.needed}
        needed = {**self.planned.needed, **known}
        before, after = self.delivery_days(self.planned), self.delivery_days(Dates((), needed))
        arrives = []
        for line, at in zip(self.lines, self.planned.arrives, strict=True):
            if line.level in known:
                last = after.on_or_before(known[line.level]) or self.calendar.on_or_before(known[line.level])
                if at > last or at == before.on_or_before(self.planned.needed[line.level]):
                    at = last
            arrives.append(at)
        return Dates(tuple(arrives), needed)

    def changed_needs(self, dates: Dates) -> dict[str, date]:
        """The levels whose day differs from the plan's, with their new one, in order of delivery."""
        return {
            level.level: dates.needed[level.level]
            for level in self.levels
            if dates.needed[level.level] != self.planned.needed[level.level]
        }

    def standing(self, dates: Dates, days: Sequence[date]) -> dict[date, int]:
        """What stands on site on each of some days, once the day's delivery has come, in the floor's mm2 / parts."""
        floor = self.floor_with(dates)
        came = RunningSum.of(
            (at.toordinal(), area) for at, area in zip(dates.arrives, self.areas, strict=True)
        )
        return {day: came.by(day.toordinal()) - floor.cut_before(day) + floor.waiting(day) for day in days}

    def lacking(self, dates: Dates) -> dict[tuple[str, str], int]:
        """By level and product how much of it has not come by the level's day, all levels until then taken together;
        the first level first."""
        in_time = sorted(self.levels, key=lambda level: dates.needed[level.level])
        found: dict[tuple[str, str], int] = {}
        for code, (needed, coming) in self._by_code.items():
            wanted = 0
            came = RunningSum.of((dates.arrives[line].toordinal(), number) for line, number in coming)
            for level in in_time:
                here = needed.get(level.level, 0)
                wanted += here
                if here:
                    there = came.by(dates.needed[level.level].toordinal())
                    if wanted > there:
                        found[level.level, code] = min(here, wanted - there)
        order = {level.level: place for place, level in enumerate(in_time)}
        return dict(sorted(found.items(), key=lambda item: order[item[0][0]]))

    @cached_property
    def lacking_as_planned(self) -> dict[tuple[str, str], int]:
        """As `lacking`, with the plan's own dates."""
        return self.lacking(self.planned)

    @cached_property
    def _by_code(self) -> dict[str, tuple[dict[str, int], list[tuple[int, int]]]]:
        """By product: how much each level needs, and the lines that bring it, with how much."""
        found: dict[str, tuple[dict[str, int], list[tuple[int, int]]]] = {}
        for line in self.plan.order.lines:
            needed, _ = found.setdefault(line.code, ({}, []))
            needed[line.level] = needed.get(line.level, 0) + line.needed
        for number, line in enumerate(self.lines):
            found[line.code][1].append((number, line.packs * line.per_pack))
        return found

    def steps(self, dates: Dates) -> tuple[Step, ...]:
        """What stands on site, from the first arrival or use on: it changes on these days and on no other."""
        used = {dates.needed[level.level] for level in self.levels}
        days = sorted({*dates.arrives, *used, *(day + ONE_DAY for day in used)})
        standing = self.standing(dates, days)
        return tuple(Step(day, -(-max(0, standing[day]) // self.floor.parts)) for day in days)


def _lines_of(deliveries: Sequence[Delivery], lines: Sequence[OrderLine]) -> tuple[tuple[int, ...], ...]:
    """By delivery the numbers of the lines that it brings: those of its levels; where levels share it, on its day."""
    on_day: dict[date | None, list[tuple[int, str]]] = {}
    for number, line in enumerate(lines):
        on_day.setdefault(line.deliver_on, []).append((number, line.level))
    return tuple(
        tuple(number for number, level in on_day.get(delivery.deliver_on, ()) if level in served(delivery))
        for delivery in deliveries
    )
