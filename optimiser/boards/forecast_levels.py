"""Levels that are still nominal are a forecast: they are ordered, but nothing of them is cut ahead.

A level with any nominal gap will be measured again, so its pieces are cut from boards of its own delivery only,
and no other level relies on what those boards leave: the survey will change them. Each forecast delivery is
therefore a cutting problem of its own, and the measured levels together are one. The bounds add up: they hold
for every plan under this rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from optimiser.boards.problems import Solve
from optimiser.cutting.problem import (
    Board,
    Cents,
    CuttingProblem,
    CuttingResult,
    Offcut,
    Piece,
    Waiting,
    costs_of,
)
from optimiser.cutting.solve import Clock, fewest_boards, proved_bound
from optimiser.model.budget import Budget
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.project import Project

SHARE_OF_CUTTING = 0.8
"""Of a time limit where there is stock; the rest proves bounds that hold whoever gets it."""


class HasIdAndLevel(Protocol):
    """What is asked of a piece to find its layout."""

    @property
    def id(self) -> str: ...
    @property
    def level(self) -> str: ...


def forecast_levels(project: Project) -> frozenset[str]:
    """The levels that are not wholly measured: a gap on at least one of their runs is nominal.

    All of the level waits for it, also where no piece of this plan rests on that gap.
    """
    runs = project.building.runs
    return frozenset(runs[gap.run].level for gap in project.gaps if gap.basis == "nominal")


def with_cut_ready(
    layouts: Iterable[PlannedPattern], pieces: Iterable[HasIdAndLevel], forecast: frozenset[str]
) -> tuple[PlannedPattern, ...]:
    """The layouts, those with pieces of a forecast level marked as not ready to cut."""
    waiting = {piece.id for piece in pieces if piece.level in forecast}
    return tuple(
        layout.model_copy(update={"cut_ready": False})
        if any(piece.id in waiting for strip in layout.strips for piece in strip.pieces)
        else layout
        for layout in layouts
    )


def solve_forecast_levels_separately(
    problem: CuttingProblem, forecast: Iterable[str], solve: Solve, seconds: float | None
) -> CuttingResult:
    """Solves a cutting problem so that the pieces with an id in `forecast` are never cut ahead.

    The measured pieces are cut first, then each forecast delivery by itself, from its own boards and from
    stock that is left by then. A time limit (seconds) is shared out by the number of pieces. The result's
    lower bound holds whoever gets the stock.
    """
    waiting = frozenset(forecast)
    parts = _parts(problem, waiting)
    if len(parts) == 1 and not waiting.intersection(piece.id for piece in problem.pieces):
        return solve(problem, seconds)
    taken: Counter[str] = Counter()
    results: list[CuttingResult] = []
    bounds: list[_Bounds] = []
    in_all = len(problem.pieces)
    for stage, pieces in parts:
        offcuts = problem.offcuts if stage is None else _there(problem, stage)
        share = Budget(seconds).share(len(pieces), of=max(1, in_all))
        left = tuple(
            offcut.model_copy(update={"quantity": offcut.quantity - taken[offcut.id]})
            for offcut in offcuts
            if offcut.quantity > taken[offcut.id]
        )
        result = solve(_with(problem, pieces, left), share.share(SHARE_OF_CUTTING if offcuts else 1).seconds)
        results.append(result)
        bounds.append(_Bounds.of(_with(problem, pieces, offcuts), result, left == offcuts, share))
        ids = {offcut.id for offcut in offcuts}
        for layout in result.layouts:
            if layout.stock in ids:
                taken[layout.stock] += layout.repeat
    return _together(problem, results, bounds)


Bound = tuple[Cents, int]
"""Proved: what no plan can cost less than, in the unit of the objective, and how many boards it cannot do without."""


@dataclass(frozen=True)
class _Bounds:
    """A part's bounds if it had all the stock that may serve it, and if it had none."""

    with_stock: Bound
    without_stock: Bound

    @classmethod
    def of(cls, part: CuttingProblem, result: CuttingResult, had_all: bool, budget: Budget) -> _Bounds:
        """Those of a part with all its stock, from its `result` where it `had_all` of it."""
        each = budget.share(1 - SHARE_OF_CUTTING, of=4).seconds
        found = (result.cost_bound, result.lower_bound) if had_all else _bound(part, each)
        return cls(found, _bound(_with(part, part.pieces, ()), each) if part.offcuts else found)


def _bound(part: CuttingProblem, seconds: float | None) -> Bound:
    cost = proved_bound(part, Clock(seconds))
    if part.counts_boards:
        return cost, int(cost)
    return cost, fewest_boards(part, Clock(seconds))


def _bound_together(problem: CuttingProblem, bounds: Sequence[_Bounds]) -> Bound:
    """The bound of all parts, which share the stock: the sum of theirs with all of it each, or, where that is more,
    of theirs with none less what the stock is worth. An offcut is worth a board of its code at the most, since
    whatever is cut from it could be cut from that board."""
    with_stock, without = (
        (sum(bound[0] for bound in each), sum(bound[1] for bound in each))
        for each in ([bound.with_stock for bound in bounds], [bound.without_stock for bound in bounds])
    )
    boards = {board.code: board for board in problem.boards}
    cost_of = dict(zip(boards, problem.board_costs, strict=True))
    worth: Cents = 0
    number = 0
    for offcut in problem.offcuts:
        board = boards.get(offcut.code)
        if board is None or board.length_mm < offcut.length_mm or board.width_mm < offcut.width_mm:
            return with_stock
        worth += offcut.quantity * cost_of[offcut.code]
        number += offcut.quantity
    return max(with_stock[0], without[0] - worth), max(with_stock[1], without[1] - number)


def _parts(problem: CuttingProblem, forecast: frozenset[str]) -> list[tuple[int | None, tuple[Piece, ...]]]:
    """The measured pieces (None) and each forecast stage's, in the order of delivery."""
    measured = tuple(piece for piece in problem.pieces if piece.id not in forecast)
    stages = sorted({piece.stage for piece in problem.pieces if piece.id in forecast})
    found: list[tuple[int | None, tuple[Piece, ...]]] = [(None, measured)] if measured or not stages else []
    for stage in stages:
        here = tuple(piece for piece in problem.pieces if piece.id in forecast and piece.stage == stage)
        found.append((stage, here))
    return found


def _there(problem: CuttingProblem, stage: int) -> tuple[Offcut, ...]:
    """The stock that may serve a stage, taken up only then, since its pieces are cut only then."""
    carry = problem.max_carry_stages
    return tuple(
        offcut.model_copy(update={"stage": stage})
        for offcut in problem.offcuts
        if offcut.stage <= stage and (carry is None or stage - offcut.stage <= carry)
    )


def _with(problem: CuttingProblem, pieces: tuple[Piece, ...], offcuts: tuple[Offcut, ...]) -> CuttingProblem:
    return problem.model_copy(update={"pieces": pieces, "offcuts": offcuts})


def _together(problem: CuttingProblem, results: list[CuttingResult], bounds: list[_Bounds]) -> CuttingResult:
    by_stage: Counter[str] = Counter()
    by_code: Counter[str] = Counter()
    for result in results:
        by_stage.update(result.boards_by_stage)
        by_code.update(result.boards_by_code or {})
    boards = sum(result.boards for result in results)
    least, bound = _bound_together(problem, bounds)
    cost = sum(result.cost for result in results)
    return CuttingResult(
        boards=boards,
        lower_bound=bound,
        optimal=cost == least,
        solve_seconds=round(sum(result.solve_seconds for result in results), 6),
        boards_by_stage={stage: by_stage[stage] for stage in sorted(by_stage, key=int)},
        layouts=tuple(layout for result in results for layout in result.layouts),
        left_over=tuple(item for result in results for item in result.left_over),
        waiting=_waiting_together(problem, results),
        boards_by_code=None
        if problem.counts_boards
        else {board.code: by_code[board.code] for board in _bought(problem, by_code)},
        lower_bound_total_cost=_sum_bound_together(problem, results),
        **costs_of(problem, cost, least),
    )


def _decimal(bound: Cents) -> Decimal:
    """A bound as a decimal, no greater."""
    return Decimal(bound.numerator // bound.denominator)


def _sum_bound_together(problem: CuttingProblem, results: list[CuttingResult]) -> Decimal | None:
    """The bound on boards and carrying of all parts, where carrying has a price: the sum of theirs, unless they share
    the stock."""
    if problem.offcuts or all(result.lower_bound_total_cost is None for result in results):
        return None
    return sum(
        (
            _decimal(r.cost_bound) if r.lower_bound_total_cost is None else r.lower_bound_total_cost
            for r in results
        ),
        Decimal(0),
    )


def _waiting_together(problem: CuttingProblem, results: list[CuttingResult]) -> Waiting:
    """What waits in all parts. Their bounds add up where no part could be cut for less, and no stock could go to
    another part, to let less wait here."""
    together = sum((result.waiting or Waiting() for result in results), Waiting())
    if not problem.offcuts and all(result.optimal for result in results):
        return together
    return together.model_copy(update={"lower_bound_piece_stages": 0})


def _bought(problem: CuttingProblem, by_code: Counter[str]) -> list[Board]:
    return sorted((board for board in problem.boards if by_code[board.code]), key=lambda board: board.code)
