"""Problems a step tighter than a given one: every plan of theirs is a plan of it, so what they cost is an upper bound.

Where the search leaves a gap, the tighter problem may be closed and the looser one not. Solving both makes whoever is
allowed more (a size, an offcut, a delivery of carrying, a millimetre of window) pay no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, combinations

from optimiser.cutting.problem import CuttingProblem, Piece
from optimiser.cutting.residual import with_codes

MOST_SIZES = 3  # of which every choice is tried by itself


def with_one_size(problem: CuttingProblem) -> Iterator[CuttingProblem]:
    """Each of up to `MOST_SIZES` board sizes by itself that can serve all pieces; of more sizes none."""
    yield from _with_sizes(problem, range(1, 2))


def with_fewer_sizes(problem: CuttingProblem) -> Iterator[CuttingProblem]:
    """Every smaller choice of several of up to `MOST_SIZES` board sizes that can serve all pieces; of more none."""
    yield from _with_sizes(problem, range(2, len(problem.boards)))


def _with_sizes(problem: CuttingProblem, numbers: Iterable[int]) -> Iterator[CuttingProblem]:
    """Every choice of so many sizes, of fewer than there are."""
    codes = [board.code for board in problem.boards]
    if not 1 < len(codes) <= MOST_SIZES:
        return
    for chosen in chain.from_iterable(combinations(codes, number) for number in numbers):
        part = with_codes(problem, chosen)
        if part is not None:
            yield part


def a_step_tighter(problem: CuttingProblem) -> Iterator[CuttingProblem]:
    """Without the last offcut listed; with one delivery of carrying less; with a millimetre of every window less, at
    its upper end and at its lower."""
    if problem.offcuts:
        *others, last = problem.offcuts
        if last.quantity > 1:
            others.append(last.model_copy(update={"quantity": last.quantity - 1}))
        yield problem.model_copy(update={"offcuts": tuple(others)})
    if problem.max_carry_stages:
        yield problem.model_copy(update={"max_carry_stages": problem.max_carry_stages - 1})
    if not problem.trim:
        yield _with_windows(problem, 0, -1)
    yield _with_windows(problem, 1, 0)


def _with_windows(problem: CuttingProblem, lower: int, upper: int) -> CuttingProblem:
    """So many mm added to both ends of every window that stays open; tapered pieces are what they are."""
    pieces = tuple(_with_window(piece, lower, upper) for piece in problem.pieces)
    return problem.model_copy(update={"pieces": pieces})


def _with_window(piece: Piece, lower: int, upper: int) -> Piece:
    if piece.tapered or piece.width_min_mm == piece.width_max_mm or piece.width_start_mm is not None:
        return piece
    return piece.model_copy(
        update={"width_min_mm": piece.width_min_mm + lower, "width_max_mm": piece.width_max_mm + upper}
    )
