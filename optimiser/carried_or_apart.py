"""Carrying between deliveries is never worse than cutting each by itself: a plan that carries may do just that.

Limited carrying is the hardest of the stagings to search, so a search that stops without proof may miss what the
deliveries by themselves would give. Where their proved bounds leave that possible they are cut too, and the
better of the two is taken.
"""

from __future__ import annotations

from collections.abc import Callable

from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import independent_parts, proved_bound

Solve = Callable[[CuttingProblem, float | None], CuttingResult]
"""Solves a problem within so many seconds (None: no limit)."""

SHARE_OF_CARRYING = 0.6  # of a time limit; deliveries by themselves are the easier problems


def no_worse_than_apart(solve: Solve) -> Solve:
    """`solve`, but a problem with a limit on carrying costs no more than its deliveries by themselves.

    With a time limit (seconds) both share it, and what is found in it is taken.
    """

    def carried_or_apart(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        if not problem.max_carry_stages or len({piece.stage for piece in problem.pieces}) < 2:
            return solve(problem, seconds)
        carried = solve(problem, None if seconds is None else SHARE_OF_CARRYING * seconds)
        rest = None if seconds is None else seconds - carried.solve_seconds
        apart = problem.model_copy(update={"max_carry_stages": 0})
        if carried.optimal or (rest is not None and rest <= 0) or bound_apart(problem) >= carried.cost:
            return carried
        found = solve(apart, rest)
        seconds_taken = round(carried.solve_seconds + found.solve_seconds, 6)
        if found.cost >= carried.cost:
            return carried.model_copy(update={"solve_seconds": seconds_taken})
        return found.model_copy(
            update={
                "lower_bound": carried.lower_bound,
                "lower_bound_cents": carried.lower_bound_cents,
                "optimal": found.cost == carried.cost_bound,
                "solve_seconds": seconds_taken,
                "first_answer": carried.first_answer,
            }
        )

    return carried_or_apart


def bound_apart(problem: CuttingProblem) -> int:
    """A proved bound on the cost of the deliveries cut each by itself: the sum of their linear programs', each
    rounded up, in boards or in the problem's prices."""
    apart = problem.model_copy(update={"max_carry_stages": 0})
    return sum(proved_bound(part) for part in independent_parts(apart))
