"""What board takes on site: face area, or floor area in stacks; its weight; and what the floor carries.

Boards lie flat, one upon another. Where `stack_height_mm` or `stack_layers` is given, the floor that boards take is
their face area divided by the layers of a full stack: as many as height, layers and the floor's load allow. What is
cut already counts like the board that it was cut from. Stacks that are not full take up to a stack more of each
size (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import lcm

from optimiser.model.order import OnSite, Order, OrderLine
from optimiser.model.planned_boards import PlannedPattern, UsableLeftOver
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Board, DeliveryLimits, Project
from optimiser.model.staging import DeliverySequence
from optimiser.ordering.running_sum import RunningSum
from optimiser.ordering.site_storage import CutOnSite, UseDays

_MM2 = 10**6  # in a square metre


def layer_kg_m2(board: Board) -> Fraction | None:
    """What one layer of a board weighs on a square metre; None where its weight is not known."""
    if board.weight_kg is None:
        return None
    return Fraction(board.weight_kg) * _MM2 / board.size.area_mm2


def shown_m2(area: int, parts: int) -> str:
    """An area of mm2 / `parts` in square metres to one place, rounded up, so that what is above a limit never shows as
    0.0."""
    tenths = -(-area // (100_000 * parts))
    return f"{tenths // 10}.{tenths % 10}"


def layers_of(limits: DeliveryLimits, board: Board) -> int:
    """The boards of a full stack: what height, layers and the floor's load allow; 1 where no stack is given."""
    if not limits.stacked:
        return 1
    most = [limits.stack_layers or 10**6]
    if limits.stack_height_mm is not None and board.thickness_mm is not None:
        most.append(limits.stack_height_mm // board.thickness_mm)
    layer = layer_kg_m2(board)
    if limits.floor_load_kg_m2 is not None and layer is not None:
        most.append(int(limits.floor_load_kg_m2 // layer))
    return max(1, min(most))


@dataclass(frozen=True)
class SiteFloor:
    """The area that boards take on site: whole numbers of mm2 / `parts`, so that every stack divides evenly.

    `needed` are the bought boards that each level cuts, by level and code: on its own day.
    """

    boards: Mapping[str, Board]
    layers: Mapping[str, int]
    cut: Mapping[str, CutOnSite]
    use: UseDays
    needed: Mapping[tuple[str, str], int]
    parts: int

    @classmethod
    def of(
        cls,
        project: Project,
        pieces: Sequence[PlannedPiece],
        layouts: Sequence[PlannedPattern],
        usable: Sequence[UsableLeftOver],
        order: Order,
    ) -> SiteFloor:
        """The floor of a plan, stacked as the project's limits say."""
        limits = project.delivery_limits or DeliveryLimits()
        boards = project.building.boards
        layers = {code: layers_of(limits, board) for code, board in boards.items()}
        cut = {code: CutOnSite.of(project, pieces, layouts, usable, code) for code in boards}
        needed = {(line.level, line.code): line.needed for line in order.lines if line.code in boards}
        return cls(boards, layers, cut, UseDays.of(project, order), needed, lcm(*layers.values()))

    def of_board(self, code: str) -> int:
        """What one board takes, in mm2 / parts; nothing where it is no board."""
        return (
            self.boards[code].size.area_mm2 * (self.parts // self.layers[code]) if code in self.boards else 0
        )

    def of_lines(self, lines: Iterable[OrderLine]) -> int:
        """What the packs of lines take."""
        return sum(line.packs * line.per_pack * self.of_board(line.code) for line in lines)

    def cut_before(self, day: date) -> int:
        """What bought boards took that are cut before a day."""
        return self._cut_over_time.by(day.toordinal())

    @cached_property
    def _cut_over_time(self) -> RunningSum:
        area = {code: self.of_board(code) for code in self.boards}
        return RunningSum.of(
            (self.use.of_level[level] + 1, number * area[code])
            for (level, code), number in self.needed.items()
        )

    def waiting(self, day: date) -> int:
        """What waits that day beside uncut bought boards: what is cut already, left-overs and stock."""
        return self._waiting_over_time.by(day.toordinal())

    @cached_property
    def _waiting_over_time(self) -> RunningSum:
        """As `CutOnSite.waiting_mm2` has it for the deliveries that are used before each day and until it."""
        return RunningSum.of(
            (day, area * (self.parts // self.layers[code]))
            for code, cut in self.cut.items()
            for day, area in cut.changes_mm2(self.use)
        )

    def _waiting(self, done: frozenset[DeliverySequence], begun: frozenset[DeliverySequence]) -> int:
        return sum(
            cut.waiting_mm2(done, begun) * (self.parts // self.layers[code]) for code, cut in self.cut.items()
        )

    @property
    def last_day(self) -> date:
        """The last day on which a level uses its boards."""
        return date.fromordinal(max(self.use.of_level.values()))

    def nights_of_the_rest(self) -> int:
        """Area times nights, in mm2 / parts, of all but the bought boards' arrival, from the first use to the last.

        A bought board that arrives n nights before the last use adds n times its area; from its own use on that
        is taken off again here, and what it leaves is added. Stock counts from the first use on.
        """
        end = self.last_day.toordinal()
        nights = -sum(
            number * self.of_board(code) * (end - self.use.of_level[level])
            for (level, code), number in self.needed.items()
        )
        days = sorted({*self.use.of_sequence.values(), end})
        for day, following in pairwise(days):
            done = self.use.before(following)
            nights += self._waiting(done, done) * (following - day)
        return nights


def standing_by_code(floor: SiteFloor, order: Order, day: date) -> dict[str, int]:
    """Face area in mm2 that stands on a day when its delivery has arrived, by the code of the board."""
    moment = day.toordinal()
    done, begun = floor.use.before(moment), floor.use.until(moment)
    found = {}
    for code, cut in floor.cut.items():
        boards = sum(
            line.packs * line.per_pack
            for line in order.lines
            if line.code == code and line.packs and line.deliver_on is not None and line.deliver_on <= day
        ) - sum(
            number
            for (level, of_code), number in floor.needed.items()
            if of_code == code and floor.use.of_level[level] < moment
        )
        found[code] = boards * floor.boards[code].size.area_mm2 + cut.waiting_mm2(done, begun)
    return found


def on_site_over_time(
    project: Project,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[PlannedPattern],
    usable: Sequence[UsableLeftOver],
    order: Order,
) -> tuple[OnSite, ...]:
    """What stands on site on each day on which boards arrive or are used; nothing where the days are not known,
    or where neither limits nor weights ask for it."""
    limits = project.delivery_limits
    weighed = any(board.weight_kg is not None for board in project.boards)
    floor = SiteFloor.of(project, pieces, layouts, usable, order)
    if not floor.use.dated or not (limits or weighed):
        return ()
    arrivals = {line.deliver_on.toordinal() for line in order.lines if line.packs and line.deliver_on}
    found = []
    for moment in sorted(arrivals | set(floor.use.of_sequence.values())):
        day = date.fromordinal(moment)
        today = floor.use.until(moment) - floor.use.before(moment)
        levels = tuple(level.level for level in project.levels_in_order() if level.sequence in today)
        found.append(_on_site(limits or DeliveryLimits(), floor, order, day, levels))
    return tuple(found)


def _on_site(
    limits: DeliveryLimits, floor: SiteFloor, order: Order, day: date, levels: tuple[str, ...]
) -> OnSite:
    there = {code: area for code, area in standing_by_code(floor, order, day).items() if area}
    taken = sum((Fraction(area, floor.layers[code]) for code, area in there.items()), Fraction(0))
    layer = {code: layer_kg_m2(floor.boards[code]) for code in there}
    known = {code: kg_m2 for code, kg_m2 in layer.items() if kg_m2 is not None}
    weight = load = None
    if len(known) == len(layer):
        weight = sum((known[code] * area / _MM2 for code, area in there.items()), Fraction(0))
        load = max((known[code] * floor.layers[code] for code in there), default=Fraction(0))
    limit = limits.floor_load_kg_m2
    return OnSite(
        day=day,
        levels=levels,
        face_mm2=sum(there.values()),
        floor_mm2=-(-taken // 1) if limits.stacked else None,
        weight_kg=None if weight is None else to_the_gram(weight),
        floor_load_kg_m2=None if load is None else to_the_gram(load),
        floor_load_kept=None if limit is None or load is None else load <= limit,
    )


def to_the_gram(weight: Fraction) -> Decimal:
    """A weight with three decimal places, halves up."""
    grams = (Decimal(weight.numerator) * 1000 / Decimal(weight.denominator)).quantize(
        Decimal(1), ROUND_HALF_UP
    )
    return grams / 1000
