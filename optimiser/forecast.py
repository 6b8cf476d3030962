"""Levels that are still nominal are a forecast: they are ordered, but nothing of them is cut ahead.

A level with any piece whose gap is nominal will be measured again, so its pieces are cut from boards of its
own delivery only, and no other level relies on what those boards leave: the survey will change them. Each
forecast delivery is therefore a cutting problem of its own, and the measured levels together are one. The
bounds add up: they hold for every plan under this rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from typing import Protocol

from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Offcut, Piece
from optimiser.project import Basis

Solve = Callable[[CuttingProblem, float | None], CuttingResult]


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
    lower bound holds whoever gets the stock: where an earlier part took some, a later part's bound is that of
    the same part with all the stock.
    """
    waiting = frozenset(forecast)
    parts = _parts(problem, waiting)
    if len(parts) == 1 and not waiting.intersection(piece.id for piece in problem.pieces):
        return solve(problem, seconds)
    taken: Counter[str] = Counter()
    results: list[CuttingResult] = []
    bounds: list[CuttingResult] = []
    in_all = len(problem.pieces)
    for stage, pieces in parts:
        offcuts = problem.offcuts if stage is None else _there(problem, stage)
        share = None if seconds is None else seconds * len(pieces) / max(1, in_all)
        left = tuple(
            offcut.model_copy(update={"quantity": offcut.quantity - taken[offcut.id]})
            for offcut in offcuts
            if offcut.quantity > taken[offcut.id]
        )
        contended = left != offcuts
        half = None if share is None else share / (2 if contended else 1)
        result = solve(_with(problem, pieces, left), half)
        results.append(result)
        bounds.append(solve(_with(problem, pieces, offcuts), half) if contended else result)
        ids = {offcut.id for offcut in offcuts}
        for layout in result.layouts:
            if layout.stock in ids:
                taken[layout.stock] += layout.repeat
    return _together(problem, results, bounds)


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


def _together(
    problem: CuttingProblem, results: list[CuttingResult], bounds: list[CuttingResult]
) -> CuttingResult:
    by_stage: Counter[str] = Counter()
    by_code: Counter[str] = Counter()
    for result in results:
        by_stage.update(result.boards_by_stage)
        by_code.update(result.boards_by_code or {})
    boards = sum(result.boards for result in results)
    bound = sum(result.lower_bound for result in bounds)
    several = problem.several_boards
    cost = sum(result.cost_cents or 0 for result in results)
    least = sum(result.lower_bound_cents or 0 for result in bounds)
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
