"""A part of a problem, solved for itself: what settled offcuts leave, or the same pieces with fewer sizes of board.

Without a rack, pieces that fit no offcut are again plain demand for strips, and few types are told apart: such a
problem is closed in a fraction of the time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from optimiser.cutting.build_patterns import named_boards
from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.master import BoardColumn, OffcutColumn, StripColumn
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.parts import Source
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.rack import pieces_in


class Residual:
    """The problem that some offcuts leave, `left` (None where they take everything), and the way back."""

    def __init__(self, demand: Demand, offcuts: Iterable[OffcutColumn]) -> None:
        """`offcuts`: the patterns of the rack that are settled, one for each offcut used; the rest of the rack stays
        as it is."""
        self.demand = demand
        self.offcuts = tuple(offcuts)
        taken: Counter[int] = Counter()
        for column in self.offcuts:
            taken.update(pieces_in(demand, column.source, column.strips))
        pieces = list(demand.problem.pieces)
        left = [piece.quantity for piece in pieces]
        for t, kind in enumerate(demand.types):
            for member in kind.members:
                used = min(left[member], taken[t])
                left[member] -= used
                taken[t] -= used
        self._kept = [k for k, count in enumerate(left) if count > 0]
        problem = demand.problem.model_copy(
            update={
                "pieces": tuple(
                    pieces[k]
                    if pieces[k].quantity == left[k]
                    else pieces[k].model_copy(update={"quantity": left[k]})
                    for k in self._kept
                ),
                "offcuts": demand.offcuts_off_the_rack,
            }
        )
        self.left = prepare(problem) if problem.pieces else None

    def whole(self, plan: ColumnPlan) -> ColumnPlan | None:
        """A plan of what is left (whatever it is where nothing is) and the offcuts as one of the whole problem; None
        where a tapered pair of it is not known there."""
        if self.left is None:
            return self._with_offcuts(0, Counter(), Counter())
        rest = as_plan_of(self.demand, self.left, plan, self._kept)
        return None if rest is None else self._with_offcuts(rest.cost, dict(rest.boards), dict(rest.strips))

    def _with_offcuts(
        self, cost: int, given: Mapping[BoardColumn, int], formed: Mapping[StripColumn, int]
    ) -> ColumnPlan:
        boards, strips = Counter(given), Counter(formed)
        for offcut in self.offcuts:
            slots, own_strips = offcut.as_slots(self.demand)
            boards[slots] += 1
            strips.update(dict(own_strips))
        return ColumnPlan(cost, tuple(boards.items()), tuple(strips.items()))


def as_plan_of(demand: Demand, part: Demand, plan: ColumnPlan, pieces: Sequence[int]) -> ColumnPlan | None:
    """A plan of a part of a problem in the terms of the whole; None where a tapered pair of it is not known there.

    `pieces`: which piece of the whole problem each of the part's is.
    """
    type_of = {member: t for t, kind in enumerate(demand.types) for member in kind.members}
    same = [_same_source(demand, source) for source in part.sources]
    boards = []
    for board in named_boards(part, plan):
        strips = [
            OpenStrip(
                strip.width,
                [tuple(type_of[pieces[i]] for i in names) for names in strip.names],
                [[pieces[i] for i in names] for names in strip.names],
            )
            for strip in board.strips
        ]
        boards.append(OpenBoard(same[board.source], strips))
    try:
        return plan_of(demand, boards)
    except KeyError:
        return None


def _same_source(demand: Demand, wanted: Source) -> int:
    """The source of the whole problem that serves what this one serves: where boards are told apart by stage there,
    the one of the same first stage."""
    named = [s for s, source in enumerate(demand.sources) if source.name == wanted.name]
    if len(named) == 1:
        return named[0]
    return next((s for s in named if demand.sources[s].first_stage == wanted.first_stage), named[0])


def with_codes(problem: CuttingProblem, codes: Collection[str]) -> CuttingProblem | None:
    """The problem with the boards of these codes alone; None where a piece could not be cut from any of them."""
    boards = [board for board in problem.boards if board.code in codes]
    pieces = []
    for piece in problem.pieces:
        allowed = tuple(code for code in piece.boards if code in codes)
        if piece.boards and not allowed:
            return None
        if not any(
            board.length_mm >= piece.length_mm
            and board.width_mm >= piece.width_min_mm
            and (not allowed or board.code in allowed)
            for board in boards
        ):
            return None
        pieces.append(piece if allowed == piece.boards else piece.model_copy(update={"boards": allowed}))
    return problem.model_copy(update={"boards": tuple(boards), "pieces": tuple(pieces)})
