"""solve(problem) -> result: the whole story of cutting, from pieces to boards with a proof.

1. The least cost, with its proof (`least_cost`).
2. At that cost, or within a budget, the least waiting, with its own (`second_aim`); where waiting has a price, one
   sum of both.
3. Layouts with named pieces, in the order in which they are cut (`build_patterns`).

`frontier(problem)` shows what more boards would save of the waiting.

One module although long: it is the story itself, a function a chapter, each short.
"""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction

from optimiser.cutting.build_patterns import build_patterns, named_boards
from optimiser.cutting.clock import Clock
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.integer import MOST_WORK
from optimiser.cutting.least_cost import (
    Progress,
    attainable_costs,
    best_plan,
    fewest_boards,
    proved_bound,
)
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.outcome import Solved, result_of, total_cost
from optimiser.cutting.paid_anyway import BudgetOf, paid_anyway
from optimiser.cutting.problem import (
    CuttingProblem,
    CuttingResult,
    FirstAnswer,
    Waiting,
    costs_of,
    in_the_unit_of,
)
from optimiser.cutting.second_aim import NO_MORE, Budget, SecondAim, Settled
from optimiser.cutting.waiting import waits

__all__ = [
    "Budget",
    "BudgetOf",
    "Clock",
    "Progress",
    "fewest_boards",
    "frontier",
    "independent_parts",
    "proved_bound",
    "solve",
]

"""What may be paid, from the boards bought at the least cost, by code."""

SECONDS_TO_REALISE_A_PIECE = 3e-5  # naming the pieces of a plan, measured on two cores
PLANS_BETWEEN = 8  # of a frontier, between the fewest boards and no waiting
SHARE_OF_EFFORT = 0.4  # of the usual search, for each of them


def solve(
    problem: CuttingProblem,
    *,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[Progress], None] | None = None,
    budget: Budget | BudgetOf = NO_MORE,
    effort: float = 1.0,
    waiting: bool = True,
) -> CuttingResult:
    """The best cutting plan found for the problem and proved lower bounds: least cost first, then least waiting at
    that cost, or within the `budget` where more is paid anyway. With a `carry_cost`, one sum of both.

    `budget` may be a function of the boards bought at the least cost, by code; its cost is in the objective's unit.
    `effort`: so many times the usual steps are spent on waiting. Without `waiting` only the cost is an aim: for
    studies that ask for nothing else.

    Without a time limit the work is bounded by counts, so equal input and seed give an equal plan. With one, the
    best feasible plan at that time is returned with the bounds proved by then. `progress` is called with each
    improvement of the cost.
    """
    clock = Clock(time_limit, reserve=len(problem.pieces) * SECONDS_TO_REALISE_A_PIECE)
    parts = independent_parts(problem)
    allowed = budget if waiting else None
    with _no_garbage_collection():
        solved = [
            _solve_part(part, clock, seed, progress, MOST_WORK // len(parts), allowed, effort)
            for part in parts
        ]
    found = result_of(problem, solved, clock.seconds)
    free = _free_by_code(problem, found, budget) if waiting else Counter()
    by_code = callable(budget) or bool(budget.boards)
    return _with_nothing_waiting(problem, found, clock, seed, free, by_code=by_code)


def _with_nothing_waiting(
    problem: CuttingProblem,
    found: CuttingResult,
    clock: Clock,
    seed: int,
    free: Counter[str],
    *,
    by_code: bool,
) -> CuttingResult:
    """Every stage cut by itself, which is how nothing waits with the fewest boards: where more is spent than the least
    so that nothing waits, or something waits although the `free` boards, paid for anyway, let nothing wait. Where what
    is free is limited `by_code`, no more boards of any code, since a cheaper board of a code whose pack is not paid
    for costs a pack."""
    better = _better_apart(problem, found, free, by_code=by_code)
    if better is None or clock.out():
        return found
    seconds = None if clock.left is None else clock.left()
    apart = solve(
        problem.model_copy(update={"max_carry_stages": 0}), time_limit=seconds, seed=seed, waiting=False
    )
    if not better(apart):
        return found
    kept = [
        "lower_bound",
        "lower_bound_cents",
        "lower_bound_mm2",
        "first_answer",
        "cost_seconds",
        "lower_bound_total_cost",
    ]
    total = total_cost(problem, apart.cost, Waiting())
    return apart.model_copy(
        update={name: getattr(found, name) for name in kept}
        | {"optimal": apart.cost == found.cost_bound, "solve_seconds": round(clock.seconds, 6)}
        | {"total_cost": total, "waiting": Waiting()}
    )


def _better_apart(
    problem: CuttingProblem, found: CuttingResult, free: Counter[str], *, by_code: bool
) -> Callable[[CuttingResult], bool] | None:
    """What a plan of every stage by itself must be so that it is taken: where something waits, of free boards alone;
    where nothing does, cheaper. None where no plan can be."""
    waiting = found.waiting
    stages = {piece.stage for piece in problem.pieces}
    if waiting is None or len(stages) < 2 or problem.max_carry_stages == 0:
        return None
    if waiting.piece_stages:
        if waiting.lower_bound_piece_stages or problem.carry_cost is not None or not free:
            return None
        return lambda apart: not _bought_by_code(apart) - free
    if found.cost == found.cost_bound:
        return None
    bought = _bought_by_code(found)
    return lambda apart: apart.cost < found.cost and not (by_code and _bought_by_code(apart) - bought)


def _free_by_code(problem: CuttingProblem, found: CuttingResult, budget: Budget | BudgetOf) -> Counter[str]:
    """How many boards of each code, of a single size under no code, may be cut without more being paid than for those
    found; empty where that is not limited by code."""
    if found.boards_by_code is None and len(problem.boards) > 1:
        return Counter()
    bought = found.boards_by_code or {problem.boards[0].code: found.boards}
    limits = (budget(bought) if callable(budget) else budget).boards
    free = {code: limits.get(code, count) for code, count in bought.items()} if limits else {}
    return Counter(free) if found.boards_by_code else Counter({"": sum(free.values())})


def _bought_by_code(result: CuttingResult) -> Counter[str]:
    """The boards of each code; of a single size under no code."""
    return Counter(result.boards_by_code or {"": result.boards})


def frontier(
    problem: CuttingProblem,
    *,
    plans_between: int = PLANS_BETWEEN,
    time_limit: float | None = None,
    seed: int = 0,
) -> tuple[CuttingResult, ...]:
    """Plans from the least cost to 'nothing waits', each with the least waiting found at its cost and both bounds.

    So many lie between the two, evenly in cost, where there are as many costs between them; a plan that costs more
    than another and waits no less is left out. The boards of one plan and the columns of its bound are the start of
    the next. Of a time limit (seconds) the first plan gets a third.
    """
    clock = Clock(time_limit)
    apart = solve(
        problem.model_copy(update={"max_carry_stages": 0}),
        time_limit=None if time_limit is None else time_limit / 6,
        seed=seed,
    )
    first = Clock(None if time_limit is None else time_limit / 3)
    with _no_garbage_collection():
        least = _least_cost(problem, first, seed, None, MOST_WORK)
        if least is None or problem.max_carry_stages == 0:
            return (apart,)
        settled = least.aim.settle(least.boards, NO_MORE)
        found = [_result(problem, least, settled, clock)]
        cheapest = int(found[0].cost / problem.unit)
        room = int(apart.cost / problem.unit) - cheapest
        number = max(0, min(plans_between, room - 1))
        least.aim.seconds_left = clock.left
        for k in range(1, number + 1):
            if not waits(least.demand, settled.boards) or clock.out():
                break
            budget = Budget(cost=cheapest + max(k, round(room * k / (number + 1))))
            settled = least.aim.settle(settled.boards, budget, SHARE_OF_EFFORT, further=k > 1)
            found.append(_result(problem, least, settled, clock))
    bound = in_the_unit_of(problem, least.bound)
    proofs = {"lower_bound": least.fewest, "optimal": apart.cost == bound}
    return _falling([*found, apart.model_copy(update=proofs | costs_of(problem, apart.cost, bound))])


def _falling(results: list[CuttingResult]) -> tuple[CuttingResult, ...]:
    """Those that wait less than all that cost less."""
    kept: list[CuttingResult] = []
    for result in results:
        before = kept[-1].waiting if kept else None
        if before is None or (result.waiting and result.waiting.piece_stages < before.piece_stages):
            kept.append(result)
    return tuple(kept)


def _result(problem: CuttingProblem, least: _LeastCost, settled: Settled, clock: Clock) -> CuttingResult:
    return result_of(problem, [_solved(least, settled, _copied(settled.boards), clock)], clock.seconds)


def _copied(boards: list[OpenBoard]) -> list[OpenBoard]:
    """Boards that may be postprocessed while the originals stay as they are."""
    return [board.copied() for board in boards]


@contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Nothing here makes cycles, and a collection walks every piece: tens of milliseconds in the middle of it."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def independent_parts(problem: CuttingProblem) -> list[CuttingProblem]:
    """Where nothing is carried every stage is a problem of its own."""
    stages = sorted({piece.stage for piece in problem.pieces})
    if problem.max_carry_stages != 0 or len(stages) < 2:
        return [problem]
    return [
        problem.model_copy(
            update={
                "pieces": tuple(piece for piece in problem.pieces if piece.stage == stage),
                "offcuts": tuple(offcut for offcut in problem.offcuts if offcut.stage == stage),
            }
        )
        for stage in stages
    ]


@dataclass(frozen=True)
class _LeastCost:
    """The plan of least cost with named pieces, its proofs, and what then looks for the least waiting."""

    demand: Demand
    boards: list[OpenBoard]
    bound: int
    fewest: int
    first: FirstAnswer
    seconds: float
    aim: SecondAim


def _least_cost(
    problem: CuttingProblem,
    clock: Clock,
    seed: int,
    progress: Callable[[Progress], None] | None,
    most_work: int,
    budget: Budget | BudgetOf | None = None,
) -> _LeastCost | None:
    """None where nothing has to be cut."""
    if not problem.pieces:
        return None
    demand = prepare(problem)
    attainable = None if problem.counts_boards else attainable_costs(problem, clock)
    first: list[FirstAnswer] = []

    def report(state: Progress) -> None:
        if not first:
            first.append(FirstAnswer(cost=state.best, seconds=round(state.seconds, 6)))
        if progress is not None:
            progress(state)

    # where all is carried freely the search is short, and its fewer boards wait less once dealt out again (measured)
    limited = problem.max_carry_stages is not None
    enough = paid_anyway(demand, budget) if callable(budget) and limited else None
    found = best_plan(demand, clock, seed, report, attainable, most_work, enough=enough)
    boards = named_boards(demand, found.plan)
    fewest = attainable.fewest if attainable else found.bound
    aim = SecondAim(demand, found.cost_until, clock.left, seed)
    return _LeastCost(demand, boards, found.bound, fewest, first[0], clock.seconds, aim)


def _solve_part(
    problem: CuttingProblem,
    clock: Clock,
    seed: int,
    progress: Callable[[Progress], None] | None,
    most_work: int,
    budget: Budget | BudgetOf | None,
    effort: float,
) -> Solved:
    """`budget` None: only the cost is an aim."""
    least = _least_cost(problem, clock, seed, progress, most_work, budget)
    if least is None:
        return Solved()
    least.aim.effort = effort
    if budget is None:
        settled = Settled(least.boards, 0, Fraction(least.bound))
    elif problem.carry_cost is None:
        allowed = budget(_bought(least)) if callable(budget) else budget
        if allowed.cost is not None:
            allowed = replace(allowed, cost=int(allowed.cost / problem.unit))
        settled = least.aim.settle(least.boards, allowed)
    else:
        settled = least.aim.least_sum(least.boards, least.bound, Fraction(problem.carry_cost) / problem.unit)
    return _solved(least, settled, settled.boards, clock)


def _bought(least: _LeastCost) -> dict[str, int]:
    """How many boards of each code are bought."""
    sources = [least.demand.sources[board.source] for board in least.boards]
    return dict(Counter(source.code for source in sources if source.available is None))


def _solved(least: _LeastCost, settled: Settled, boards: list[OpenBoard], clock: Clock) -> Solved:
    layouts, left_over = build_patterns(least.demand, boards, last_aims=not clock.hurried)
    return Solved(
        layouts,
        left_over,
        least.bound,
        least.fewest,
        least.first,
        least.seconds,
        settled.bound,
        settled.total_bound,
    )
