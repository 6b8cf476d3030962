"""The open cases by ways that know less: what several sizes, a rack and carrying further are worth.

'one size': this solver with each size alone that takes every piece, the cheapest of them. 'without offcuts': this
solver with nothing on the rack. 'level by level': nothing carried. 'first fit, wide board alone': what a careful person
or a spreadsheet does with the first size and no offcuts. Sums are boards, or cents where sizes have prices.
"""

from __future__ import annotations

from collections.abc import Iterator
from time import process_time

from benchmarks.comparison import OURS, Comparison
from benchmarks.rivals.first_fit_decreasing import first_fit_decreasing
from benchmarks.rivals.restricted import level_by_level
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Objective
from optimiser.cutting.residual import with_codes
from optimiser.cutting.solve import solve

MOST_PIECES_FIRST_FIT = 2_000  # it looks at every strip for every piece
SECONDS = 10.0  # of this solver on what a rival is allowed


def compared(
    case: str, problem: CuttingProblem, result: CuttingResult, cpu_seconds: float
) -> list[Comparison]:
    """This solver's result on a case and the ways that know less, in the same run."""
    rows = [_row(case, OURS, int(result.cost), int(result.cost_bound), cpu_seconds, result.cost, cpu_seconds)]
    for way, part in _restricted(problem):
        started = process_time()
        found = [solve(one, time_limit=SECONDS, waiting=False) for one in part]
        best = min(found, key=lambda of: of.cost)
        seconds = process_time() - started
        rows.append(_row(case, way, int(best.cost), int(best.cost_bound), seconds, result.cost, cpu_seconds))
    tapered = any(piece.tapered for piece in problem.pieces)
    if not tapered and sum(piece.quantity for piece in problem.pieces) <= MOST_PIECES_FIRST_FIT:
        started = process_time()
        first = problem.boards[0]
        alone = problem.model_copy(
            update={"boards": (first,), "offcuts": (), "objective": Objective.FEWEST_BOARDS}
        )
        boards = first_fit_decreasing(alone).boards or 0
        cost = boards * int(problem.board_costs[0])
        seconds = process_time() - started
        rows.append(_row(case, "first fit, wide board alone", cost, None, seconds, result.cost, cpu_seconds))
    return rows


def _restricted(problem: CuttingProblem) -> Iterator[tuple[str, list[CuttingProblem]]]:
    if len(problem.boards) > 1:
        parts = [with_codes(problem, (board.code,)) for board in problem.boards]
        yield "one size", [part for part in parts if part is not None]
    if problem.offcuts:
        yield "without offcuts", [problem.model_copy(update={"offcuts": ()})]
    if problem.max_carry_stages != 0:
        yield "level by level", [level_by_level(problem)]


def _row(
    case: str, way: str, cost: int, bound: int | None, seconds: float, ours: object, our_seconds: float
) -> Comparison:
    reference = float(str(ours))
    return Comparison(
        group=case,
        way=way,
        cases=1,
        boards=cost,
        lower_bound=bound,
        seconds=seconds,
        boards_ratio=cost / reference if reference else None,
        seconds_ratio=seconds / max(our_seconds, 1e-3),
        notes=(),
    )
