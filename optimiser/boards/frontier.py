"""The trade-off of boards against waiting over all families of boards: from 'nothing waits' to the fewest boards.

Each family's cutting problem has its own plans between the two (`optimiser.cutting.solve.frontier`), and the plan that
is made when nothing is chosen. A plan of the building takes one of each; of all such choices those remain that wait
less than every one that costs as little. Of many the ends are shown, and then, one by one, the one that takes the
largest bite out of what lies between its neighbours (the greedy rule for subsets of largest hypervolume: Bringmann and
Friedrich, Evolutionary Computation 18, 2010).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from optimiser.boards.carry_fallback import with_independent_stage_fallback
from optimiser.boards.forecast_levels import solve_forecast_levels_separately
from optimiser.boards.paid_packs import bought_of, paid_boards, paid_cents
from optimiser.boards.problems import BoardFamily, Solve, price_of_a_board
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Objective, Waiting
from optimiser.cutting.solve import frontier, solve
from optimiser.model.budget import Budget
from optimiser.model.project import Project

MOST_PLANS = 12
"""As many plans of a building are shown, both ends among them."""
_MOST_KEPT = 400  # of the choices of some families, while the next is added
_SHARE_OF_FRONTIER = 0.7  # of a time limit; the rest is for the plan that is made when nothing is chosen


@dataclass(frozen=True)
class FrontierPlan:
    """One plan of the trade-off. `number` counts from 1, where nothing waits; `results` has the cutting of each family.

    `cost` is what the boards that are cut are worth at the price of one, in cents, or their area in mm2 where a board
    has no price. No plan whose boards cost as little waits less than `lower_bound_piece_stages`: proved, whatever is
    spent on which family. `paid_cents` is for whole packs; `least_for_paid`: no other plan of the frontier that pays as
    little waits less.
    """

    number: int
    results: tuple[CuttingResult, ...]
    bought: dict[str, int]
    cost: Fraction
    waiting: Waiting
    lower_bound_piece_stages: int
    paid_cents: Fraction
    least_for_paid: bool


@dataclass(frozen=True)
class _Choice:
    """A result of each family so far, by its place in the family's list."""

    cost: Fraction
    waits: int
    places: tuple[int, ...]


@dataclass(frozen=True)
class _Step:
    """Plans of a family that cost at least `cost` wait no less than `bound`."""

    cost: Fraction
    bound: int


def frontier_plans(
    project: Project,
    families: Sequence[BoardFamily],
    forecast: Iterable[str] = (),
    time_limit: float | None = None,
    seed: int = 0,
) -> tuple[FrontierPlan, ...]:
    """The plans, 'nothing waits' first, the fewest boards last. `forecast` names the pieces of nominal levels, of which
    nothing waits anyway. A time limit (seconds) is shared out by the number of pieces."""
    forecast = frozenset(forecast)
    budget = Budget(time_limit)
    left = sum(len(family.problem.pieces) for family in families)
    found: list[tuple[CuttingResult, ...]] = []
    for family in families:
        count = len(family.problem.pieces)
        share = budget.share(count, of=left)
        plans = _plans_of(project, family, forecast, share, seed)
        budget = budget.after(max(plan.solve_seconds for plan in plans) + plans[0].solve_seconds)
        left -= count
        found.append(plans)
    return _numbered(project, families, found)


def _plans_of(
    project: Project, family: BoardFamily, forecast: frozenset[str], budget: Budget, seed: int
) -> tuple[CuttingResult, ...]:
    """A family's plans: first the one that is made when nothing is chosen, then those of its frontier."""
    measured = tuple(piece for piece in family.problem.pieces if piece.id not in forecast)

    def usual(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        return solve(problem, time_limit=seconds, seed=seed, budget=paid_boards(project))

    first = with_independent_stage_fallback(usual)
    seconds = budget.share(1 - _SHARE_OF_FRONTIER).seconds
    by_themselves: dict[CuttingProblem, CuttingResult] = {}

    def with_forecast(of_measured: Solve) -> CuttingResult:
        """The measured levels cut in this way, the nominal ones each by itself as always."""

        def part(problem: CuttingProblem, limit: float | None) -> CuttingResult:
            if problem.pieces == measured:
                return of_measured(problem, limit)
            if problem not in by_themselves:
                by_themselves[problem] = first(problem, limit)
            return by_themselves[problem]

        return solve_forecast_levels_separately(family.problem, forecast, part, seconds)

    unchosen = with_forecast(first)
    if not measured:
        return (unchosen,)
    between = frontier(
        family.problem.model_copy(update={"pieces": measured}),
        time_limit=budget.share(_SHARE_OF_FRONTIER).seconds,
        seed=seed,
    )
    return (unchosen, *(with_forecast(_returning(result)) for result in between))


def _returning(result: CuttingResult) -> Solve:
    return lambda problem, seconds: result


def _numbered(
    project: Project, families: Sequence[BoardFamily], found: Sequence[tuple[CuttingResult, ...]]
) -> tuple[FrontierPlan, ...]:
    """The families' plans put together, and those that are shown."""
    boards = project.building.boards
    codes = [code for family in families for code in family.codes]
    priced = all(boards[code].price for code in codes)
    value_of = {
        code: price_of_a_board(boards[code]) if priced else Fraction(boards[code].size.area_mm2)
        for code in codes
    }
    front = [_Choice(Fraction(0), 0, ())]
    steps = [_Step(Fraction(0), 0)]
    for family, plans in zip(families, found, strict=True):
        costs = [_value(plan, family, value_of) for plan in plans]
        front = _not_beaten(
            _Choice(choice.cost + costs[k], choice.waits + _waits(plan), (*choice.places, k))
            for choice in front
            for k, plan in enumerate(plans)
        )
        if len(front) > _MOST_KEPT:
            front = [*front[:: -(-len(front) // _MOST_KEPT)], front[-1]]
        of_family = _steps_of(family, plans, costs, value_of, priced)
        steps = _lowest(
            _Step(one.cost + other.cost, one.bound + other.bound) for one in steps for other in of_family
        )
    bought = {choice: _bought(families, found, choice) for choice in front}
    paid = {choice: paid_cents(project, bought[choice]) for choice in front}
    worth = {
        choice
        for choice in front
        if all(paid[choice] < paid[other] for other in front if other.waits < choice.waits)
    }
    shown = _most_telling(_most_telling([front[0], front[-1]], sorted(worth, key=_by_cost)), front)
    return tuple(
        FrontierPlan(
            number=number,
            results=tuple(of[k] for of, k in zip(found, choice.places, strict=True)),
            bought=bought[choice],
            cost=choice.cost,
            waiting=sum(
                (of[k].waiting or Waiting() for of, k in zip(found, choice.places, strict=True)), Waiting()
            ),
            lower_bound_piece_stages=min(
                choice.waits, min(step.bound for step in steps if step.cost <= choice.cost)
            ),
            paid_cents=paid[choice],
            least_for_paid=choice in worth,
        )
        for number, choice in enumerate(reversed(shown), start=1)
    )


def _bought(
    families: Sequence[BoardFamily], found: Sequence[tuple[CuttingResult, ...]], choice: _Choice
) -> dict[str, int]:
    bought: dict[str, int] = {}
    for family, plans, k in zip(families, found, choice.places, strict=True):
        bought.update(bought_of(plans[k], family.codes))
    return bought


def _value(result: CuttingResult, family: BoardFamily, value_of: dict[str, Fraction]) -> Fraction:
    bought = bought_of(result, family.codes)
    return sum((value_of[code] * count for code, count in bought.items()), Fraction(0))


def _waits(result: CuttingResult) -> int:
    return result.waiting.piece_stages if result.waiting else 0


def _steps_of(
    family: BoardFamily,
    plans: Sequence[CuttingResult],
    costs: Sequence[Fraction],
    value_of: dict[str, Fraction],
    priced: bool,
) -> list[_Step]:
    """What is proved of a family: where its boards cost more than the next cheaper plan's, and no more than a plan's
    own, it waits no less than that plan's bound. The first plan's bound is for its own number of boards, so that it
    says nothing of several sizes.
    """
    several = len(family.codes) > 1
    least = Fraction(plans[0].lower_bound) * min(value_of[code] for code in family.codes)
    in_money = family.problem.objective is Objective.LEAST_COST
    if several and in_money != priced:
        return [_Step(least, 0)]  # solved for the least money, but counted in area
    unit = value_of[family.codes[0]]
    if several:
        unit = family.problem.unit
        least = max(least, Fraction(plans[0].cost_bound))
    proved = sorted(
        (cost, plan.waiting.lower_bound_piece_stages)
        for k, (cost, plan) in enumerate(zip(costs, plans, strict=True))
        if plan.waiting is not None and (k or not several)
    )
    steps: list[_Step] = []
    cost = least
    for k, (until, _) in enumerate(proved):
        if not steps or until > cost:
            steps.append(_Step(cost if not steps else cost + unit, max(bound for _, bound in proved[k:])))
            cost = until
    return [*steps, _Step(cost + unit if steps else cost, 0)]


def _not_beaten(choices: Iterable[_Choice]) -> list[_Choice]:
    """Those that wait less than all that cost as little, cheapest first."""
    kept: list[_Choice] = []
    for choice in sorted(choices, key=lambda c: (c.cost, c.waits, c.places)):
        if not kept or choice.waits < kept[-1].waits:
            kept.append(choice)
    return kept


def _lowest(steps: Iterable[_Step]) -> list[_Step]:
    """Those with a lower bound than all that cost as little, cheapest first."""
    kept: list[_Step] = []
    for step in sorted(steps, key=lambda s: (s.cost, s.bound)):
        if not kept or step.bound < kept[-1].bound:
            kept.append(step)
    return kept


def _by_cost(choice: _Choice) -> Fraction:
    return choice.cost


def _most_telling(chosen: Sequence[_Choice], pool: Sequence[_Choice]) -> list[_Choice]:
    """At most `MOST_PLANS`, the cheapest first: those chosen already, the ends among them, and of the pool those that
    take the largest bites."""
    shown = sorted(set(chosen), key=_by_cost)
    left = [choice for choice in pool if choice not in shown]
    while left and len(shown) < MOST_PLANS:
        largest = max(left, key=partial(_bite, shown=shown))
        left.remove(largest)
        shown = sorted([*shown, largest], key=_by_cost)
    return shown


def _bite(choice: _Choice, shown: Sequence[_Choice]) -> Fraction:
    """The cost and waiting that it takes out of what lies between its neighbours."""
    dearer = next(other for other in shown if other.cost > choice.cost)
    cheaper = next(other for other in reversed(shown) if other.cost < choice.cost)
    return (dearer.cost - choice.cost) * (cheaper.waits - choice.waits)
