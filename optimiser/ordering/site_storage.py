"""What board stands on site, delivery by delivery, by its face area.

Counted just after a delivery arrives and before it is cut: uncut boards (whole packs, the allowance and what
earlier deliveries left over included), stock not cut yet, remainders of opened boards that wait for later levels,
and left-overs that a later level can use. Face area (length x width) is what the plan knows; how high it may be
stacked is the site's to say, so the floor taken is this divided by the layers in a stack.

A board counts as used on the day of the first level that is cut from it; from then on what waits of it stands as
remainders, from the delivery that keeps each to the one that cuts it. A left-over is part of a remainder until the
last piece beside it is cut.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import ceil, inf

from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.model.order import Order
from optimiser.model.planned_boards import PlannedPattern, UsableLeftOver, numbered
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Level, Project
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence

FIRST_DAY = date.min.toordinal()
"""Before every day of a delivery, and no later than the first stage."""


@dataclass(frozen=True)
class Standing:
    """The boards of one moment: face areas in mm2, boards in number; `levels` use their boards then.

    `day` is None where not every level of the order has a day: then the deliveries are only in their order.
    """

    day: date | None
    levels: tuple[str, ...]
    arriving_boards: int
    used_boards: int
    standing_boards: int
    standing_mm2: int


@dataclass(frozen=True)
class CutOnSite:
    """The plan's boards, remainders and left-overs by the sequence number of the delivery that moves them.

    `boards`: bought boards opened, by sequence and code. `remainders_mm2`: kept with one sequence and cut with
    another (kept, cut). `kept_mm2`: left-overs made with one sequence and last of use to another.
    `stock_mm2`: stock there from a sequence on (None: from the start); `stock_cut_mm2`: cut with a sequence.
    """

    boards: Counter[tuple[DeliverySequence, str]]
    remainders_mm2: Counter[tuple[DeliverySequence, DeliverySequence]]
    kept_mm2: Counter[tuple[DeliverySequence, DeliverySequence]]
    stock_mm2: Counter[DeliverySequence | None]
    stock_cut_mm2: Counter[DeliverySequence]

    @classmethod
    def of(
        cls,
        project: Project,
        pieces: Iterable[PlannedPiece],
        layouts: Sequence[PlannedPattern],
        usable: Sequence[UsableLeftOver],
        code: str | None = None,
    ) -> CutOnSite:
        """Counts a plan's cutting sequence and left-overs; with `code`, those of that board only."""
        if code is not None:
            layouts = [layout for layout in layouts if layout.code == code]
            usable = [item for item in usable if item.code == code]
        sequence = project.building.sequence_of_level
        steps = cutting_sequence(project, pieces, layouts, usable).steps
        boards: Counter[tuple[DeliverySequence, str]] = Counter()
        waiting: defaultdict[tuple[DeliverySequence, DeliverySequence], Fraction] = defaultdict(Fraction)
        freed: defaultdict[tuple[str, DeliverySequence, Size], list[DeliverySequence]] = defaultdict(list)
        stock: Counter[DeliverySequence | None] = Counter()
        stock_cut: Counter[DeliverySequence] = Counter()
        for row in project.stock:
            if code not in (None, row.code):
                continue
            stock[sequence.get(row.level)] += row.size.area_mm2 * row.quantity
        came_with = {number: layout.sequence for number, layout in numbered(layouts)}
        for step in steps:
            if step.taken is None and step.on_site:
                stock_cut[step.stage] += step.length_mm * step.width_mm
            elif step.taken is None:
                boards[step.stage, step.code] += 1
            for part in step.kept:
                waiting[part.stage, part.cut_stage] += part.area_mm2
            for rest in step.left_overs:
                came = came_with[step.layout]
                freed[step.code, came, Size(rest.length_mm, rest.width_mm)].append(step.stage)
        kept: Counter[tuple[DeliverySequence, DeliverySequence]] = Counter()
        for item in usable:
            last = max(sequence[level] for level in item.serves)
            stages = freed[item.code, item.stage, item.size]
            for made in stages[: item.quantity]:
                kept[made, last] += item.size.area_mm2
        remainders = Counter({key: ceil(area) for key, area in waiting.items()})
        return cls(boards, remainders, kept, stock, stock_cut)

    def waiting_mm2(self, done: frozenset[DeliverySequence], begun: frozenset[DeliverySequence]) -> int:
        """Remainders, left-overs and stock on site when the deliveries `done` are cut and fitted and those of
        `begun` are there."""
        waiting = sum(
            area
            for parts in (self.remainders_mm2, self.kept_mm2)
            for (made, until), area in parts.items()
            if made in done and until not in done
        )
        there = sum(area for at, area in self.stock_mm2.items() if at is None or at in begun)
        return waiting + there - sum(area for at, area in self.stock_cut_mm2.items() if at in done)

    def changes_mm2(self, use: UseDays) -> Iterator[tuple[int, int]]:
        """By how much what waits changes, and on which day: what a delivery cuts waits from the next day on.

        Summed until a day this is `waiting_mm2` of the deliveries used before it and until it; what is there from the
        start comes on the first day of all.
        """
        days = use.of_sequence
        for parts in (self.remainders_mm2, self.kept_mm2):
            for (made, until), area in parts.items():
                if made in days and days[made] < days.get(until, inf):
                    yield days[made] + 1, area
                    if until in days:
                        yield days[until] + 1, -area
        for at, area in self.stock_mm2.items():
            if at is None or at in days:
                yield days[at] if at is not None else FIRST_DAY, area
        for at, area in self.stock_cut_mm2.items():
            if at in days:
                yield days[at] + 1, -area


@dataclass(frozen=True)
class UseDays:
    """When each delivery's boards are used, by sequence number and by level.

    Days since the calendar's beginning (`date.toordinal`) when `dated`, else the deliveries' stages.
    """

    dated: bool
    of_sequence: dict[DeliverySequence, int]
    of_level: dict[str, int]

    @classmethod
    def of(cls, project: Project, order: Order) -> UseDays:
        """The days on which the levels need their material; stages when a level of the order has none."""
        used = {line.level for line in order.lines}
        stage = project.building.stage_of_level
        needed = {level.level: level.needed_on for level in project.levels}
        dated = bool(used) and all(needed[level] is not None for level in used)
        latest = max((day.toordinal() for day in needed.values() if day is not None), default=0)
        of_level = {
            level.level: (level.needed_on.toordinal() if level.needed_on else latest)
            if dated
            else stage[level.level]
            for level in project.levels
        }
        return cls.on(project.levels, of_level, used, dated=dated)

    @classmethod
    def on(
        cls, levels: Iterable[Level], of_level: dict[str, int], ordered_for: Collection[str], *, dated: bool
    ) -> UseDays:
        """These days of the levels: a delivery is used with the first of its levels that something is ordered for, one
        that brings nothing with the first of all its levels."""
        first: defaultdict[DeliverySequence, list[tuple[bool, int]]] = defaultdict(list)
        for level in levels:
            first[level.sequence].append((level.level not in ordered_for, of_level[level.level]))
        return cls(dated, {sequence: min(days)[1] for sequence, days in first.items()}, of_level)

    def before(self, moment: int) -> frozenset[DeliverySequence]:
        """The deliveries used before a moment."""
        return frozenset(sequence for sequence, day in self.of_sequence.items() if day < moment)

    def until(self, moment: int) -> frozenset[DeliverySequence]:
        """The deliveries used before a moment or then."""
        return frozenset(sequence for sequence, day in self.of_sequence.items() if day <= moment)


def standing_over_time(
    project: Project,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[PlannedPattern],
    usable: Sequence[UsableLeftOver],
    order: Order,
) -> tuple[Standing, ...]:
    """What stands on site at every moment on which boards arrive or are used, in order of time.

    A line arrives on its own day; where the order's days are not all known, with its level's delivery.
    """
    on_site = CutOnSite.of(project, pieces, layouts, usable)
    days = UseDays.of(project, order)
    size = project.building.boards
    arriving: Counter[tuple[int, str]] = Counter()
    for line in order.lines:
        if line.code in size and line.packs:
            day = days.of_level[line.level]
            if days.dated and line.deliver_on is not None:
                day = line.deliver_on.toordinal()
            arriving[day, line.code] += line.packs * line.per_pack
    found = []
    for moment in sorted({moment for moment, _ in arriving} | set(days.of_sequence.values())):
        done = days.before(moment)
        boards: Counter[str] = Counter()
        for (day, code), number in arriving.items():
            boards[code] += number if day <= moment else 0
        for (at, code), number in on_site.boards.items():
            boards[code] -= number if at in done else 0
        today = days.until(moment) - done
        area = sum(n * size[code].size.area_mm2 for code, n in boards.items())
        found.append(
            Standing(
                day=date.fromordinal(moment) if days.dated else None,
                levels=tuple(level.level for level in project.levels_in_order() if level.sequence in today),
                arriving_boards=sum(number for (day, _), number in arriving.items() if day == moment),
                used_boards=sum(number for (at, _), number in on_site.boards.items() if at in today),
                standing_boards=boards.total(),
                standing_mm2=area + on_site.waiting_mm2(done, days.until(moment)),
            )
        )
    return tuple(found)
