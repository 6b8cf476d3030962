"""Whole strips first, then boards: can so many boards of each source take all pieces?

An integer program forms strips that keep conditions on their widths (`strip_program`). Whether the boards can take
these strips is cutting in one dimension: where its linear program says no, its prices are a further condition; where
it says yes, annealing deals the strips out. So either there is a plan, or in the end no strips keep all conditions,
which proves that there is none (logic-based Benders decomposition: Hooker and Ottosson, Mathematical Programming 96,
2003).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.cheapest_strips import cheapest_strips
from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Values
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.packing import SCHEDULES, dealt_out_by_annealing
from optimiser.cutting.rearranging import Schedule
from optimiser.cutting.strip_conditions import Condition, broken_condition
from optimiser.cutting.strip_program import FilledBoard, FormedStrip, StripPatterns, strips_formed

MOST_ROUNDS = 60  # of strips and boards
MOST_CHOICES = 4  # of boards and strips, each by a condition more or with more room to spare
FILLING = 4  # times the effort that is left, where boards are filled one by one
STEPS_A_PIECE = 1_000  # of annealing, of the first strips
STEPS_WITH_ROOM = 4_000  # of those that leave most room


@dataclass(frozen=True)
class Answer:
    """Whether the boards take all pieces: a plan that shows it; `fits` False where none does, None where that is not
    settled."""

    fits: bool | None
    plan: ColumnPlan | None = None


class WholeStrips:
    """The questions of one demand; what is learned of its strips' widths serves every number of boards."""

    def __init__(
        self,
        demand: Demand,
        prices: Sequence[Values],
        patterns: StripPatterns | None = None,
        seed: int = 0,
    ) -> None:
        """`prices`: any values of each family's widths, such as the linear program's; `patterns`: those of the demand's
        strips, where they are listed already."""
        self.demand = demand
        self.patterns = patterns or StripPatterns(demand)
        self.seed = seed
        self.conditions: list[Condition] = []
        self._learn([(family.widths + family.kerf).astype(np.int64) for family in demand.families])
        self._learn(prices)

    def _learn(self, values: Sequence[Values]) -> None:
        """Adds the conditions of these values of each family's widths."""
        for f, (family, of_widths) in enumerate(zip(self.demand.families, values, strict=True)):
            if len(family.widths):  # else no piece fits these boards
                self.conditions.append(Condition.of(self.demand, f, of_widths))

    def fit(
        self,
        boards: Sequence[int],
        effort: float,
        seconds_left: Callable[[], float] | None = None,
        *,
        one_by_one: bool = False,
    ) -> Answer:
        """Whether so many boards of each source take all pieces, within `effort` deterministic seconds of CP-SAT in all
        (and the seconds of the clock that are left). `one_by_one`: where strips cannot be dealt out, boards that must
        be nearly full are filled by the integer program itself, which takes seconds."""
        roomy = False
        for _ in range(MOST_ROUNDS):
            left = None if seconds_left is None else seconds_left()
            if effort <= 0 or (left is not None and left <= 0):
                break
            formed = strips_formed(self.patterns, self.conditions, boards, effort, seconds_left, roomy=roomy)
            effort -= formed.effort
            if formed.possible is False:
                return Answer(False)
            if formed.possible is None:
                break
            further = self._broken(boards, formed.strips)
            self.conditions += further
            if further:
                continue
            steps = STEPS_WITH_ROOM if roomy else STEPS_A_PIECE
            plan = self._dealt_out(boards, formed.strips, steps, seconds_left)
            if plan is not None:
                return Answer(True, plan)
            if roomy:
                return self._filled(boards, effort, seconds_left) if one_by_one else Answer(None)
            roomy = True  # strips that leave more room are dealt out more easily
        return Answer(None)

    def _filled(
        self, boards: Sequence[int], effort: float, seconds_left: Callable[[], float] | None
    ) -> Answer:
        """The answer where boards that must be nearly full are filled by the integer program itself."""
        formed = strips_formed(
            self.patterns, self.conditions, boards, FILLING * effort, seconds_left, filled=True
        )
        if not formed.possible:
            return Answer(formed.possible)
        plan = self._dealt_out(boards, formed.strips, STEPS_WITH_ROOM, seconds_left, formed.filled)
        return Answer(True, plan) if plan is not None else Answer(None)

    def cheapest(self, below: int, seconds_left: Callable[[], float] | None = None) -> ColumnPlan | None:
        """A plan that costs less than `below`, on the cheapest boards that are found to hold whole strips; None where
        that is not found."""
        spare_mm = 0
        for _ in range(MOST_CHOICES):
            rules = [*self.conditions, *self._room_to_spare(spare_mm)]
            chosen = cheapest_strips(self.patterns, rules, below, seconds_left)
            if chosen is None:
                return None
            further = self._broken(chosen.boards, chosen.strips)
            self.conditions += further
            if further:
                continue
            # the second schedule hardly ever does where the first does not: rather the next choice
            plan = self._dealt_out(
                chosen.boards, chosen.strips, STEPS_A_PIECE, seconds_left, schedules=SCHEDULES[:1]
            )
            if plan is not None:
                return plan
            spare_mm = 2 * spare_mm or 1
        return None

    def _room_to_spare(self, spare_mm: int) -> Iterator[Condition]:
        """That so much of every board's width is left free, on average of its family: no condition of all plans, but
        strips that keep it are dealt out more easily."""
        for f, family in enumerate(self.demand.families if spare_mm else ()):
            most = [s.width + s.kerf - spare_mm if s.family == f else 0 for s in self.demand.sources]
            yield Condition(f, (family.widths + family.kerf).astype(np.int64), tuple(most))

    def _broken(self, boards: Sequence[int], strips: Sequence[FormedStrip]) -> list[Condition]:
        found = []
        for f in range(len(self.demand.families)):
            widths = Counter(strip.width for strip in strips if strip.family == f)
            condition = broken_condition(self.demand, f, boards, widths)
            if condition is not None:
                found.append(condition)
        return found

    def _dealt_out(
        self,
        boards: Sequence[int],
        strips: Sequence[FormedStrip],
        steps: int,
        seconds_left: Callable[[], float] | None,
        filled: Sequence[FilledBoard] = (),
        schedules: Sequence[Schedule] = SCHEDULES,
    ) -> ColumnPlan | None:
        def out() -> bool:
            return seconds_left is not None and seconds_left() <= 0

        placed = on_boards(self.demand, boards, strips, filled)
        settled = {board.source for board in filled}
        done = [board for board in placed if board.source in settled]
        start = [board for board in placed if board.source not in settled]
        for schedule in schedules:
            found = (
                dealt_out_by_annealing(self.demand, start, schedule, out, self.seed, steps) if start else []
            )
            if found is not None:
                return plan_of(self.demand, [board for board in [*found, *done] if board.strips])
        return None


def on_boards(
    demand: Demand,
    boards: Sequence[int],
    strips: Sequence[FormedStrip],
    filled: Sequence[FilledBoard] = (),
) -> list[OpenBoard]:
    """The strips on so many boards of each source, the widest first: in the places of the `filled` boards of their
    family, or else where most is free, whether they fit or not; every piece is named."""
    pieces = demand.problem.pieces
    names = [[i for i in kind.members for _ in range(pieces[i].quantity)] for kind in demand.types]
    placed = [OpenBoard(s, []) for s, count in enumerate(boards) for _ in range(count)]
    by_source = {s: [board for board in placed if board.source == s] for s in range(len(boards))}
    slots: dict[int, list[tuple[int, OpenBoard]]] = {}  # of each family, the widest last
    for plan in filled:
        board = by_source[plan.source].pop()
        slots.setdefault(demand.sources[plan.source].family, []).extend((w, board) for w in plan.widths)
    for places in slots.values():
        places.sort(key=lambda place: place[0])
    for strip in sorted(strips, key=lambda strip: (-strip.width, strip.types)):
        if strip.family in slots:
            _, board = slots[strip.family].pop()
        else:
            of = [board for board in placed if demand.sources[board.source].family == strip.family]
            board = max(of, key=lambda board: board.free_width(demand))
        board.strips.append(
            OpenStrip(
                int(demand.families[strip.family].widths[strip.width]),
                [(t,) for t in strip.types],
                [[names[t].pop()] for t in strip.types],
            )
        )
    return placed
