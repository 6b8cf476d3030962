"""solve(problem) -> result: the whole story of cutting, from pieces to boards with a proof.

1. The constructive heuristic gives an immediate plan.
2. Column generation gives a bound that no plan can beat, and the columns of good plans.
3. Rounding, diving and a restricted integer program close the distance.
4. The columns become layouts with named pieces.
"""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from time import perf_counter

from optimiser.cutting.attainable import Attainable
from optimiser.cutting.carrying import level_by_level
from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.generation import ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.integer import MOST_WORK, close_the_gap, rounded
from optimiser.cutting.problem import CuttingProblem, CuttingResult, FirstAnswer, Layout, LeftOver
from optimiser.cutting.realise import carried, realise

ROUND_EVERY = 4  # solves of the master while columns are generated
SHARE_FOR_COLUMNS = 0.8  # of a time limit; the rest is for whole boards
SECONDS_TO_REALISE_A_PIECE = 3e-5  # naming the pieces of a plan, measured on two cores


@dataclass(frozen=True)
class Progress:
    """How far a solve has come: cost (boards, or cents with several sizes) of the best plan and its bound."""

    seconds: float
    best: int
    bound: int


class Clock:
    """Time since the start and whether the limit is reached, less what the last step will still take."""

    def __init__(self, limit: float | None, reserve: float = 0.0) -> None:
        self.started = perf_counter()
        self.limit = None if limit is None else max(0.0, limit - min(reserve, 0.5 * limit))

    @property
    def seconds(self) -> float:
        """Seconds since the start."""
        return perf_counter() - self.started

    @property
    def left(self) -> Callable[[], float] | None:
        """Seconds until the limit, as a function; None without a limit."""
        limit = self.limit
        return None if limit is None else lambda: limit - self.seconds

    def nearly_out(self) -> bool:
        """Whether so much of the limit is used that rounding should begin."""
        return self.limit is not None and self.seconds >= SHARE_FOR_COLUMNS * self.limit

    def out(self) -> bool:
        """Whether the time limit is reached."""
        return self.limit is not None and self.seconds >= self.limit


def solve(
    problem: CuttingProblem,
    *,
    time_limit: float | None = None,
    seed: int = 0,
    progress: Callable[[Progress], None] | None = None,
) -> CuttingResult:
    """The best cutting plan found for the problem and a proved lower bound.

    Without a time limit the work is bounded by counts, so equal input and seed give an equal plan. With one, the
    best feasible plan at that time is returned with the bound proved by then. `progress` is called with each
    improvement.
    """
    clock = Clock(time_limit, reserve=len(problem.pieces) * SECONDS_TO_REALISE_A_PIECE)
    parts = independent_parts(problem)
    with _no_garbage_collection():
        solved = [_solve_part(part, clock, seed, progress, MOST_WORK // len(parts)) for part in parts]
    layouts = tuple(layout for part in solved for layout in part.layouts)
    left_over = tuple(item for part in solved for item in part.left_over)
    return _result(problem, solved, layouts, left_over, clock.seconds)


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


@dataclass(frozen=True)
class _Solved:
    layouts: tuple[Layout, ...] = ()
    left_over: tuple[LeftOver, ...] = ()
    bound: int = 0
    fewest_boards: int = 0
    first: FirstAnswer | None = None


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


def _solve_part(
    problem: CuttingProblem,
    clock: Clock,
    seed: int,
    progress: Callable[[Progress], None] | None,
    most_work: int,
) -> _Solved:
    if not problem.pieces:
        return _Solved()
    demand = prepare(problem)
    attainable = _attainable(problem, clock) if problem.several_boards else None
    first: list[FirstAnswer] = []

    def told(state: Progress) -> None:
        if not first:
            first.append(FirstAnswer(cost=state.best, seconds=round(state.seconds, 6)))
        if progress is not None:
            progress(state)

    plan, bound = best_plan(demand, clock, seed, told, attainable, most_work)
    layouts, left_over = realise(demand, plan)
    return _Solved(layouts, left_over, bound, attainable.fewest if attainable else bound, first[0])


def best_plan(
    demand: Demand,
    clock: Clock,
    seed: int,
    progress: Callable[[Progress], None] | None = None,
    attainable: Attainable | None = None,
    most_work: int = MOST_WORK,
) -> tuple[ColumnPlan, int]:
    """The best plan in columns, and the proved bound on its cost."""
    best = complete(demand, [], TOLERANCES[:1])

    def told(plan: ColumnPlan, lower: int) -> None:
        if progress is not None:
            progress(Progress(clock.seconds, plan.cost, lower))

    told(best, 0)
    if best.cost == 0:
        return best, 0
    if not clock.out():
        best = min(best, complete(demand, [], TOLERANCES[1:]), key=lambda plan: plan.cost)
    generation = ColumnGeneration(demand, best, clock.left, attainable)
    told(best, generation.lower_bound)

    def round_sometimes(number: int) -> None:
        nonlocal best
        if number % ROUND_EVERY == 0:
            plan = rounded(generation)
            if plan.cost < best.cost:
                best = plan
                told(best, generation.lower_bound)

    value = generation.run(lambda: best.cost, clock.nearly_out, round_sometimes)
    if value < float("inf") and generation.lower_bound < best.cost:
        round_sometimes(0)
    bound = generation.lower_bound
    told(best, bound)
    if bound < best.cost and not clock.out():
        best, bound = close_the_gap(generation, best, clock.out, seed, told, most_work)
    return _fewest_offcuts(demand, _least_carried(generation, best, clock), clock), bound


def _fewest_offcuts(demand: Demand, best: ColumnPlan, clock: Clock) -> ColumnPlan:
    """At the same cost, without the offcuts that can stay on the shelf, the largest first."""
    used = [column for column, _ in best.boards if demand.sources[column.source].available is not None]
    used.sort(key=lambda column: -demand.sources[column.source].width * demand.sources[column.source].length)
    for column in used:
        while not clock.out():
            boards = Counter(dict(best.boards))
            if not boards[column]:
                break
            boards[column] -= 1
            without = complete(demand, [*boards.items(), *best.strips])
            if without.cost > best.cost:
                break
            best = without
    return best


def _least_carried(generation: ColumnGeneration, best: ColumnPlan, clock: Clock) -> ColumnPlan:
    """At the same cost, the plan that carries the fewest pieces between levels."""
    if clock.out():
        return best
    least: int | None = None
    for plan in level_by_level(generation, best):
        if least is None:
            least = carried(generation.demand, best)
        count = carried(generation.demand, plan)
        if plan.cost < best.cost or count < least:
            return plan
    return best


def _attainable(problem: CuttingProblem, clock: Clock) -> Attainable:
    """Proved bounds on the number of boards: of all, and of each code for the pieces that only it may serve."""
    floors = []
    for board in problem.boards:
        only = tuple(piece for piece in problem.pieces if piece.boards == (board.code,))
        floors.append(fewest_boards(problem.model_copy(update={"pieces": only}), clock) if only else 0)
    return Attainable(
        tuple(board.price_cents for board in problem.boards),
        tuple(floors),
        max(fewest_boards(problem, clock), sum(floors)),
    )


def fewest_boards(problem: CuttingProblem, clock: Clock) -> int:
    """A proved bound on the number of boards whatever they cost: the linear program at price one each."""
    return proved_bound(problem.model_copy(update={"several_boards": False}), clock)


def proved_bound(problem: CuttingProblem, clock: Clock | None = None) -> int:
    """What no plan can cost less than, by column generation alone, in boards or in the problem's prices.

    Bounded by counts without a clock; with one it holds however soon it is stopped.
    """
    clock = clock or Clock(None)
    demand = prepare(problem)
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start, clock.left)
    generation.run(lambda: start.cost, clock.out)
    return generation.lower_bound


def _first_of(solved: list[_Solved]) -> FirstAnswer | None:
    """The parts' first plans together: there when the last of them was."""
    answers = [part.first for part in solved if part.first is not None]
    if not answers:
        return None
    return FirstAnswer(
        cost=sum(answer.cost for answer in answers), seconds=max(answer.seconds for answer in answers)
    )


def _result(
    problem: CuttingProblem,
    solved: list[_Solved],
    layouts: tuple[Layout, ...],
    left_over: tuple[LeftOver, ...],
    seconds: float,
) -> CuttingResult:
    prices = {board.code: board.price_cents for board in problem.boards}
    bought = [layout for layout in layouts if layout.stock in prices]
    boards = sum(layout.repeat for layout in bought)
    by_stage: dict[int, int] = {}
    by_code: dict[str, int] = {}
    for layout in bought:
        by_stage[layout.stage] = by_stage.get(layout.stage, 0) + layout.repeat
        by_code[layout.stock] = by_code.get(layout.stock, 0) + layout.repeat
    cost = sum(prices[code] * count for code, count in by_code.items())
    bound = sum(part.bound for part in solved)
    several = problem.several_boards
    fewest = sum(part.fewest_boards for part in solved)
    return CuttingResult(
        boards=boards,
        lower_bound=fewest,
        optimal=cost == bound if several else boards == bound,
        solve_seconds=round(seconds, 6),
        boards_by_stage={str(stage): by_stage[stage] for stage in sorted(by_stage)},
        layouts=layouts,
        left_over=left_over,
        cost_cents=cost if several else None,
        lower_bound_cents=bound if several else None,
        first_answer=_first_of(solved),
        boards_by_code={code: by_code[code] for code in sorted(by_code)} if several else None,
    )
