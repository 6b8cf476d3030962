"""Boards and carrying in one sum of money: the price of keeping a remainder, in and out of the cutting's units.

The cutting solver minimises boards at the price of one plus carrying, and proves a bound on that sum. What is paid is
whole packs: so of a few plans the one is taken that comes to least in packs and carrying, and the bound is lifted to
packs. For n boards of price p each, carrying costs at least L - n p where L bounds the solver's sum; they are paid with
P(n); so no plan comes to less than the least of P(n) + max(0, L - n p) over all n from the fewest boards upwards.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from fractions import Fraction
from math import ceil

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import bought_of, paid_cents
from optimiser.boards.problems import BoardFamily, price_of_a_board
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.errors.problems import CannotBeDone
from optimiser.model.budget import Budget
from optimiser.model.money import MOST, cents_of, exact_amount, from_cents
from optimiser.model.order import Carrying
from optimiser.model.project import Project

_SHARE_OF_THE_SUM = 0.5  # of a time limit
_FINEST = Decimal("1e-9")  # of a price in the cutting's units; rounded down, which keeps every bound true


@dataclass(frozen=True)
class CarryPrice:
    """What one remainder costs from one delivery to the next, in cents, and what boards cost in whole packs."""

    project: Project
    cents: int

    @classmethod
    def of(cls, project: Project, carry_cost: Decimal | None) -> CarryPrice | None:
        """The price given, else the project's own; None where there is none.

        Raises CannotBeDone where it is no amount of money, or a board has no price, so that nothing can be summed up.
        """
        given = project.project.carry_cost if carry_cost is None else carry_cost
        if given is None:
            return None
        try:
            given = exact_amount(given)
        except ValueError as error:
            raise CannotBeDone([f"carry_cost: {error}"]) from None
        if not 0 <= given <= MOST:
            raise CannotBeDone([f"carry_cost: {given} is not from 0 to {MOST:,}"])
        used = {code for run in project.runs for code in run.board}
        without = [board.code for board in project.boards if board.code in used and not board.price]
        if without:
            raise CannotBeDone(
                [
                    f"carry_cost {given} makes boards and waiting one sum of money, but {code} has no price: give it"
                    " one in the products, or leave carry_cost blank"
                    for code in without
                ]
            )
        return cls(project, cents_of(given))

    def problem_with_price(self, family: BoardFamily, problem: CuttingProblem) -> CuttingProblem:
        """The family's problem, or a part of it, with the price in the unit of its boards' prices."""
        exact = Fraction(self.cents) / self.cents_per_unit(family)
        price = (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(_FINEST, ROUND_FLOOR)
        if Fraction(price) > exact:
            price -= _FINEST
        return problem.model_copy(update={"carry_cost": price})

    def cents_per_unit(self, family: BoardFamily) -> Fraction:
        """What one unit of the problem's cost is: a board where there is one size, else a cent."""
        if len(family.codes) > 1:
            return Fraction(1)
        return price_of_a_board(self.project.building.boards[family.codes[0]])

    def sum_cents(self, result: CuttingResult, codes: tuple[str, ...]) -> Fraction:
        """What a cutting result comes to: boards as they are paid for, and carrying."""
        kept = result.waiting.remainder_stages if result.waiting else 0
        return paid_cents(self.project, bought_of(result, codes)) + self.cents * kept

    def bound_cents(self, family: BoardFamily, result: CuttingResult) -> int:
        """What no cutting of the family's pieces comes to less than, from the bounds of a result: whole cents."""
        least = max(Fraction(result.cost_bound), Fraction(result.lower_bound_total_cost or 0))
        linear = least * self.cents_per_unit(family)
        if len(family.codes) > 1 or forecast_levels(self.project):
            return ceil(linear)
        (code,) = family.codes
        each = price_of_a_board(self.project.building.boards[code])
        boards = result.lower_bound
        lowest = None
        while True:
            paid = paid_cents(self.project, {code: boards})
            here = paid + max(Fraction(0), linear - boards * each)
            lowest = here if lowest is None else min(lowest, here)
            if paid >= lowest:  # more boards are paid with no less
                return ceil(lowest)
            boards += 1

    def in_the_plan(self, bought: Mapping[str, int], remainder_stages: int, bound_cents: int) -> Carrying:
        """The sum as the plan tells it."""
        boards = from_cents(ceil(paid_cents(self.project, bought)))
        carrying = from_cents(self.cents * remainder_stages)
        total = boards + carrying
        bound = min(total, from_cents(bound_cents))
        return Carrying(
            price=from_cents(self.cents),
            remainder_stages=remainder_stages,
            boards=boards,
            carrying=carrying,
            total=total,
            lower_bound=bound,
            optimal=bound == total,
        )


SolveWithin = Callable[[CuttingProblem, float | None, Mapping[str, int] | None], CuttingResult]
"""Solves a problem within so many seconds, in as many packs as these boards take (None: in the fewest)."""


def least_sum(
    price: CarryPrice,
    family: BoardFamily,
    problem: CuttingProblem,
    solve: SolveWithin,
    seconds: float | None = None,
) -> CuttingResult:
    """The plan of a family, or of a part of it, that comes to least in packs and carrying, with the bound on the sum.

    Four plans are compared: that of least boards and carrying, that of least waiting in the fewest packs, that of least
    waiting in as many packs as the first one takes, and the cheapest in which nothing waits. A time limit (seconds) is
    shared out among them.
    """
    budget = Budget(seconds)
    priced = solve(price.problem_with_price(family, problem), budget.share(_SHARE_OF_THE_SUM).seconds, None)
    candidates = [priced]
    taken = bought_of(priced, family.codes)
    for at_most in (None, taken):
        rest = budget.after(sum(found.solve_seconds for found in candidates))
        if rest.used_up or (at_most and bought_of(candidates[-1], family.codes) == taken):
            break
        candidates.append(solve(problem, rest.seconds, at_most))
    rest = budget.after(sum(found.solve_seconds for found in candidates))
    if not rest.used_up and problem.max_carry_stages != 0:
        apart = solve(problem.model_copy(update={"max_carry_stages": 0}), rest.seconds, None)
        candidates.append(_of_all(apart, candidates[-1]))
    best = min(candidates, key=lambda found: price.sum_cents(found, family.codes))
    return best.model_copy(
        update={
            "total_cost": priced.total_cost,
            "lower_bound_total_cost": priced.lower_bound_total_cost,
            "solve_seconds": round(sum(found.solve_seconds for found in candidates), 6),
        }
    )


def _of_all(apart: CuttingResult, carried: CuttingResult) -> CuttingResult:
    """A plan in which nothing waits, with the bounds of all plans in place of those of its own kind."""
    return apart.model_copy(
        update={
            "lower_bound": carried.lower_bound,
            "lower_bound_cents": carried.lower_bound_cents,
            "optimal": apart.cost == carried.cost_bound,
            "first_answer": carried.first_answer,
        }
    )
