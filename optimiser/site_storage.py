"""What board stands on site, delivery by delivery, by its face area.

Counted just after a delivery arrives and before it is cut: uncut boards (whole packs, the allowance and what
earlier deliveries left over included), stock not cut yet, pieces cut ahead for later levels, and left-overs
that a later level can use. Face area (length x width) is what the plan knows; how high it may be stacked is
the site's to say, so the floor taken is this divided by the layers in a stack.

A level's boards count as used on the day of its delivery, all of them: also pieces for later levels are cut
then, and stand as pieces from then on.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from optimiser.cutting.problem import Layout
from optimiser.cutting_stages import stock_rows
from optimiser.plan import Order, PlannedPiece, UsableLeftOver
from optimiser.project import Project


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
    """The plan's boards, pieces and left-overs by the sequence number of the delivery that moves them.

    `boards`: bought boards cut, by sequence and code. `carried_mm2`: pieces cut with one sequence and fitted
    with another (cut, fitted). `kept_mm2`: left-overs made with one sequence and last of use to another.
    `stock_mm2`: stock there from a sequence on (None: from the start); `stock_cut_mm2`: cut with a sequence.
    """

    boards: Counter[tuple[int, str]]
    carried_mm2: Counter[tuple[int, int]]
    kept_mm2: Counter[tuple[int, int]]
    stock_mm2: Counter[int | None]
    stock_cut_mm2: Counter[int]

    @classmethod
    def of(
        cls,
        project: Project,
        pieces: Iterable[PlannedPiece],
        layouts: Iterable[Layout],
        usable: Iterable[UsableLeftOver],
    ) -> CutOnSite:
        """Counts a plan's layouts and left-overs."""
        sequence = {level.level: level.sequence for level in project.levels}
        rows = stock_rows(project)
        by_id = {piece.id: piece for piece in pieces}
        boards: Counter[tuple[int, str]] = Counter()
        twice_carried: Counter[tuple[int, int]] = Counter()
        kept: Counter[tuple[int, int]] = Counter()
        stock: Counter[int | None] = Counter()
        stock_cut: Counter[int] = Counter()
        for row in project.stock:
            stock[sequence.get(row.level)] += row.length_mm * row.width_mm * row.quantity
        for layout in layouts:
            if layout.stock in rows:
                row = rows[layout.stock]
                stock_cut[layout.stage] += row.length_mm * row.width_mm * layout.repeat
            else:
                boards[layout.stage, layout.code] += layout.repeat
            for cut in (cut for strip in layout.strips for cut in strip.pieces):
                piece = by_id[cut.id]
                fitted = sequence[piece.level]
                if fitted > layout.stage:
                    ends = piece.cut_width_start_mm + piece.cut_width_end_mm
                    twice_carried[layout.stage, fitted] += ends * piece.length_mm * layout.repeat
        for item in usable:
            last = max(sequence[level] for level in item.serves)
            kept[item.stage, last] += item.length_mm * item.width_mm * item.quantity
        carried = Counter({key: (area + 1) // 2 for key, area in twice_carried.items()})
        return cls(boards, carried, kept, stock, stock_cut)

    def waiting_mm2(self, done: frozenset[int], begun: frozenset[int]) -> int:
        """Pieces, left-overs and stock on site when the deliveries `done` are cut and fitted and those of
        `begun` are there."""
        waiting = sum(
            area
            for parts in (self.carried_mm2, self.kept_mm2)
            for (made, until), area in parts.items()
            if made in done and until not in done
        )
        there = sum(area for at, area in self.stock_mm2.items() if at is None or at in begun)
        return waiting + there - sum(area for at, area in self.stock_cut_mm2.items() if at in done)


@dataclass(frozen=True)
class UseDays:
    """When each delivery's boards are used, by sequence number and by level.

    Days since the calendar's beginning (`date.toordinal`) when `dated`, else the deliveries' ranks from 0.
    """

    dated: bool
    of_sequence: dict[int, int]
    of_level: dict[str, int]

    @classmethod
    def of(cls, project: Project, order: Order) -> UseDays:
        """The days on which the levels need their material; ranks when a level of the order has none."""
        used = {line.level for line in order.lines}
        sequences = sorted({level.sequence for level in project.levels})
        needed = {level.level: level.needed_on for level in project.levels}
        dated = bool(used) and all(needed[level] is not None for level in used)
        latest = max((day.toordinal() for day in needed.values() if day is not None), default=0)
        of_level = {
            level.level: (level.needed_on.toordinal() if level.needed_on else latest)
            if dated
            else sequences.index(level.sequence)
            for level in project.levels
        }
        of_sequence: dict[int, int] = {}
        for level in project.levels:
            day = of_level[level.level]
            of_sequence[level.sequence] = min(of_sequence.get(level.sequence, day), day)
        return cls(dated, of_sequence, of_level)

    def before(self, moment: int) -> frozenset[int]:
        """The deliveries used before a moment."""
        return frozenset(sequence for sequence, day in self.of_sequence.items() if day < moment)

    def until(self, moment: int) -> frozenset[int]:
        """The deliveries used before a moment or then."""
        return frozenset(sequence for sequence, day in self.of_sequence.items() if day <= moment)


def standing_over_time(
    project: Project,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[Layout],
    usable: Sequence[UsableLeftOver],
    order: Order,
) -> tuple[Standing, ...]:
    """What stands on site at every moment on which boards arrive or are used, in order of time.

    A line arrives on its own day; where the order's days are not all known, with its level's delivery.
    """
    on_site = CutOnSite.of(project, pieces, layouts, usable)
    days = UseDays.of(project, order)
    size = {product.code: product for product in project.products_of("board")}
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
        area = sum(n * (size[code].length_mm or 0) * (size[code].width_mm or 0) for code, n in boards.items())
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
