"""Carrying between deliveries is never worse than cutting each by itself: a plan that carries may do just that.

Limited carrying is the hardest of the stagings to search, so a search that stops without proof may miss what the
deliveries by themselves would give. Where their proved bounds leave that possible they are cut too, and the
better of the two is taken.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from optimiser.boards.problems import Solve
from optimiser.cutting.problem import Cents, CuttingProblem, CuttingResult
from optimiser.cutting.solve import independent_parts, proved_bound
from optimiser.model.budget import Budget

SumOf = Callable[[CuttingResult], Fraction]
"""What a result comes to in all, boards and carrying, in one unit for all results."""

SHARE_OF_CARRYING = 0.6  # of a time limit; deliveries by themselves are the easier problems


def with_independent_stage_fallback(solve: Solve, sum_of: SumOf | None = None) -> Solve:
    """`solve`, but a problem with a limit on carrying costs no more than its deliveries by themselves.

    With a time limit (seconds) both share it, and what is found in it is taken. `sum_of` says what a result comes to
    where carrying has a price; without it the boards' cost is compared.
    """

    def carried_or_apart(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        if not problem.max_carry_stages or len({piece.stage for piece in problem.pieces}) < 2:
            return solve(problem, seconds)
        budget = Budget(seconds)
        carried = solve(problem, budget.share(SHARE_OF_CARRYING).seconds)
        rest = budget.after(carried.solve_seconds)
        apart = problem.model_copy(update={"max_carry_stages": 0})
        if rest.used_up or (sum_of is None and (carried.optimal or bound_apart(problem) >= carried.cost)):
            return carried
        found = solve(apart, rest.seconds)
        seconds_taken = round(carried.solve_seconds + found.solve_seconds, 6)
        if (sum_of or _cost)(found) >= (sum_of or _cost)(carried):
            return carried.model_copy(update={"solve_seconds": seconds_taken})
        return found.model_copy(
            update={
                "lower_bound": carried.lower_bound,
                "lower_bound_cents": carried.lower_bound_cents,
                "lower_bound_mm2": carried.lower_bound_mm2,
                "optimal": found.cost == carried.cost_bound,
                "solve_seconds": seconds_taken,
                "first_answer": carried.first_answer,
                "lower_bound_total_cost": carried.lower_bound_total_cost,
            }
        )

    return carried_or_apart


def _cost(result: CuttingResult) -> Cents:
    return result.cost


def bound_apart(problem: CuttingProblem) -> Cents:
    """A proved bound on the cost of the deliveries cut each by itself: the sum of their linear programs', each
    rounded up, in the unit of the objective."""
    apart = problem.model_copy(update={"max_carry_stages": 0})
    return sum(proved_bound(part) for part in independent_parts(apart))
