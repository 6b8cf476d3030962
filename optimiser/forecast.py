"""Levels that are still nominal are a forecast: they are ordered, but nothing of them is cut ahead.

A level with any piece whose gap is nominal will be measured again, so its pieces are cut from boards of its
own delivery only, and no other level relies on what those boards leave: the survey will change them. Each
forecast delivery is therefore a cutting problem of its own, and the measured levels together are one. The
bounds add up: they hold for every plan under this rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Offcut, Piece
from optimiser.cutting.solve import Clock, fewest_boards, proved_bound
from optimiser.project import Basis

Solve = Callable[[CuttingProblem, float | None], CuttingResult]


SHARE_OF_CUTTING = (
    0.8  # of a time limit where there is stock; the rest proves bounds that hold whoever gets it
)


class OfALevel(Protocol):
    """What is asked of a piece: a `LaidPiece` and a `PlannedPiece` both tell it."""

    @property
    def level(self) -> str: ...
    @property
    def basis(self) -> Basis: ...


def forecast_levels(pieces: Iterable[OfALevel]) -> frozenset[str]:
    """The levels that are not wholly measured: at least one of their pieces rests on a nominal gap."""
    return frozenset(piece.level for piece in pieces if piece.basis == "nominal")


def solve_forecasts_apart(
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
        share = _part_of(seconds, len(pieces) / max(1, in_all))
        left = tuple(
            offcut.model_copy(update={"quantity": offcut.quantity - taken[offcut.id]})
            for offcut in offcuts
            if offcut.quantity > taken[offcut.id]
        )
        result = solve(_with(problem, pieces, left), _part_of(share, SHARE_OF_CUTTING if offcuts else 1))
        results.append(result)
        bounds.append(_Bounds.of(_with(problem, pieces, offcuts), result, left == offcuts, share))
        ids = {offcut.id for offcut in offcuts}
        for layout in result.layouts:
            if layout.stock in ids:
                taken[layout.stock] += layout.repeat
    return _together(problem, results, bounds)


Bound = tuple[int, int]
"""Proved: what no plan can cost less than, in the problem's prices, and how many boards it cannot do without."""


@dataclass(frozen=True)
class _Bounds:
    """A part's bounds if it had all the stock that may serve it, and if it had none."""

    with_stock: Bound
    without_stock: Bound

    @classmethod
    def of(cls, part: CuttingProblem, result: CuttingResult, had_all: bool, seconds: float | None) -> _Bounds:
        """Those of a part with all its stock, from its `result` where it `had_all` of it."""
        each = _part_of(seconds, (1 - SHARE_OF_CUTTING) / 4)
        found = (result.cost_bound, result.lower_bound) if had_all else _bound(part, each)
        return cls(found, _bound(_with(part, part.pieces, ()), each) if part.offcuts else found)


def _part_of(seconds: float | None, share: float) -> float | None:
    return None if seconds is None else seconds * share


def _bound(part: CuttingProblem, seconds: float | None) -> Bound:
    cost = proved_bound(part, Clock(seconds))
    if not part.several_boards:
        return cost, cost
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
    worth = number = 0
    for offcut in problem.offcuts:
        board = boards.get(offcut.code)
        if board is None or board.length_mm < offcut.length_mm or board.width_mm < offcut.width_mm:
            return with_stock
        worth += offcut.quantity * (board.price_cents if problem.several_boards else 1)
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
    several = problem.several_boards
    cost = sum(result.cost_cents or 0 for result in results)
    return CuttingResult(
        boards=boards,
        lower_bound=bound,
        optimal=cost == least if several else boards == bound,
        solve_seconds=round(sum(result.solve_seconds for result in results), 6),
        boards_by_stage={stage: by_stage[stage] for stage in sorted(by_stage, key=int)},
        layouts=tuple(layout for result in results for layout in result.layouts),
        left_over=tuple(item for result in results for item in result.left_over),
        cost_cents=cost if several else None,
        lower_bound_cents=least if several else None,
        boards_by_code={board.code: by_code[board.code] for board in _bought(problem, by_code)}
        if several
        else None,
    )


def _bought(problem: CuttingProblem, by_code: Counter[str]) -> list[Board]:
    return sorted((board for board in problem.boards if by_code[board.code]), key=lambda board: board.code)
