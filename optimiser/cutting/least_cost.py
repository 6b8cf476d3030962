"""The least cost: from pieces to a plan in columns with a proof, and the bounds that others ask for.

1. The constructive heuristic gives an immediate plan.
2. Column generation gives a bound that no plan can beat, and the columns of good plans.
3. Rounding, diving and a restricted integer program close the distance.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import chain
from math import ceil

from optimiser.cutting.attainable import Attainable
from optimiser.cutting.build_patterns import named_boards
from optimiser.cutting.clock import Clock
from optimiser.cutting.columns import ColumnPlan, apart_by_stage, complete
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.generation import MOST_FILLED_ROWS, ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.idle_offcuts import without_idle_offcuts
from optimiser.cutting.integer import MOST_WORK, close_the_gap, rounded
from optimiser.cutting.mixtures import Mixtures, bound_by_mixtures
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.packing import TRIES, packed
from optimiser.cutting.problem import Cents, CuttingProblem, Objective, in_the_unit_of
from optimiser.cutting.rack_search import close_with_rack
from optimiser.cutting.rack_start import begin_without_rack
from optimiser.cutting.residual import as_plan_of
from optimiser.cutting.strip_program import applies as strips_apply
from optimiser.cutting.tighter import a_step_tighter, with_fewer_sizes, with_one_size
from optimiser.cutting.whole_strips import WholeStrips

ROUND_EVERY = 4  # solves of the master while columns are generated
ROUND_SELDOM = 16  # of a master with a large rack, of which a rounding takes as long as several solves
FIRST_TRIES = 3  # of packing where there are several sizes, before columns are dived on
SHARE_BEFORE_PACKING = 0.9  # of a time limit: naming the pieces and their partners takes a while by itself
SHARE_OF_DIVES = 0.5  # of what is left of a time limit then
SHARE_OF_A_RACK = 10  # of the work, for what a settled rack leaves: one part in so many, each time
MOST_PIECES_TIGHTER = 1_000  # of a problem that is solved a step tighter too
FEWEST_PIECES_ALONE = 400  # of a problem whose sizes are first solved one by one
MOST_PIECES_IN_STRIPS = 2_000  # of a problem whose whole strips are formed in one integer program
SHARE_FOR_WHOLE_STRIPS = 0.9  # of what is left of a time limit then, for the cheapest of all sizes together
SHARE_FOR_ONE_SIZE = 0.7  # of what is left of a time limit then, for each size of several by itself
SHARE_FOR_MIXTURES = 0.85  # of a time limit, columns included
SHARE_FOR_COLUMNS = 0.8  # of a time limit; the rest is for whole boards
SHARE_OF_THE_REST = (
    0.5  # of what is left of a time limit, for what a settled rack leaves; then all is packed together
)


@dataclass(frozen=True)
class Progress:
    """How far a solve has come: cost of the best plan, in the objective's unit, and its bound."""

    seconds: float
    best: Cents
    bound: Cents


@dataclass(frozen=True)
class BestPlan:
    """A plan in columns, the proved bound on its cost, and what boards opened until each stage cost at the least."""

    plan: ColumnPlan
    bound: int
    cost_until: tuple[int, ...] = ()


def best_plan(
    demand: Demand,
    clock: Clock,
    seed: int,
    progress: Callable[[Progress], None] | None = None,
    attainable: Attainable | None = None,
    most_work: int = MOST_WORK,
    below: int | None = None,
    enough: Callable[[int], int] | None = None,
    packing: bool = True,
    no_dearer: bool = True,
) -> BestPlan:
    """The plan of least cost that is found, with its proof.

    `below`: only a plan that costs less is of use, so where the bound says that there is none the search ends.
    `enough`: the most that may be cut at no more than what the bound's boards are paid, in whole packs: the long
    search for a board less is spared where no pack would be. Without `packing` that search is
    left to whoever asks, for the whole; with `no_dearer` tighter problems are solved too where a gap remains.
    """
    best = complete(demand, [], TOLERANCES[:1])

    def paid(lower: int) -> int:
        return lower if enough is None else enough(lower)

    def report(plan: ColumnPlan, lower: int) -> None:
        if progress is not None:
            problem = demand.problem
            best_so_far, proved = in_the_unit_of(problem, plan.cost), in_the_unit_of(problem, lower)
            progress(Progress(clock.seconds, best_so_far, proved))

    report(best, 0)
    if best.cost == 0:
        return BestPlan(best, 0)
    if not clock.out():
        best = min(best, complete(demand, [], TOLERANCES[1:]), key=lambda plan: plan.cost)
    generation = ColumnGeneration(demand, best, clock.left, attainable)
    report(best, generation.lower_bound)
    large_rack = bool(demand.racks) and not demand.staged and generation.master.rows > MOST_FILLED_ROWS
    if large_rack:
        begin_without_rack(generation, clock.left, lambda: clock.used(SHARE_FOR_COLUMNS))

    def round_sometimes(number: int) -> None:
        nonlocal best
        if number % (ROUND_SELDOM if large_rack else ROUND_EVERY) == 0:
            plan = rounded(generation)
            if plan.cost < best.cost:
                best = plan
                report(best, generation.lower_bound)

    value = generation.run(lambda: best.cost, lambda: clock.used(SHARE_FOR_COLUMNS), round_sometimes)
    if value < float("inf") and generation.lower_bound < best.cost:
        round_sometimes(0)
    bound = generation.lower_bound
    report(best, bound)
    mixtures = None
    if bound < best.cost and not clock.out() and Mixtures.can_tell(demand, best.cost):
        mixtures = Mixtures(demand, best.cost)
        generation.by_mixtures = bound_by_mixtures(
            generation, mixtures, lambda: clock.used(SHARE_FOR_MIXTURES)
        )
        bound = generation.lower_bound
        report(best, bound)
    if below is not None and bound >= below:
        return BestPlan(best, bound, generation.cost_until(_stages(demand)))
    if demand.racks and bound < best.cost and not clock.out():

        def rest_of(left: Demand, below: int) -> ColumnPlan:
            return best_plan(
                left,
                clock.of_what_is_left(SHARE_OF_THE_REST),
                seed,
                None,
                attainable,
                most_work // SHARE_OF_A_RACK,
                below,
                packing=False,
                no_dearer=False,
            ).plan

        best = close_with_rack(generation, best, rest_of, clock.out, report)
        bound = generation.lower_bound
    many_in_sizes = mixtures is not None and packing and no_dearer and demand.pieces >= FEWEST_PIECES_ALONE
    asked = many_in_sizes and demand.pieces <= MOST_PIECES_IN_STRIPS and strips_apply(demand)
    if asked and bound < best.cost and not clock.out():
        strips = WholeStrips(demand, generation.proof_of_slots, generation.strip_patterns)
        best = strips.cheapest(best.cost, clock.of_what_is_left(SHARE_FOR_WHOLE_STRIPS).left) or best
        report(best, bound)
    # one size alone is often the better start where whole strips are too many to be asked about
    if many_in_sizes and bound < best.cost:
        share = clock.of_what_is_left(SHARE_FOR_ONE_SIZE)
        best = _no_dearer_than_tighter(
            demand, best, paid(bound), with_one_size(demand.problem), share, seed, most_work
        )
        report(best, bound)
    several = demand.staged or len(demand.families) > 1 or len(demand.sources) > 1
    bought = generation.boards_bought
    if bound < best.cost and several and packing:
        tries = TRIES if mixtures is None else FIRST_TRIES
        best = packed(demand, best, paid(bound), clock.out, seed, bought, mixtures, tries)
        report(best, bound)
    if bound < best.cost and not clock.out():
        end = clock.out if mixtures is None or not packing else clock.part(SHARE_OF_DIVES)
        best, bound = close_the_gap(generation, best, end, seed, report, most_work, mixtures)
    if bound < best.cost and packing and not clock.used(SHARE_BEFORE_PACKING):
        best = packed(demand, best, paid(bound), clock.out, seed + 1, bought, mixtures)
    if bound < best.cost and no_dearer:
        tighter = with_fewer_sizes(demand.problem)
        if not many_in_sizes:
            tighter = chain(with_one_size(demand.problem), tighter)
        if several and demand.pieces <= MOST_PIECES_TIGHTER:
            tighter = chain(tighter, a_step_tighter(demand.problem))
        best = _no_dearer_than_tighter(demand, best, paid(bound), tighter, clock, seed, most_work)
        report(best, bound)
    if not clock.out():
        apart = apart_by_stage(demand)
        if apart is not None and apart.cost <= best.cost:
            best = apart
    if demand.problem.offcuts:
        best = plan_of(demand, without_idle_offcuts(demand, named_boards(demand, best)))
    return BestPlan(best, bound, generation.cost_until(_stages(demand)))


def _stages(demand: Demand) -> list[int]:
    return sorted({piece.stage for piece in demand.problem.pieces})


def _no_dearer_than_tighter(
    demand: Demand,
    best: ColumnPlan,
    bound: int,
    tighter: Iterable[CuttingProblem],
    clock: Clock,
    seed: int,
    most_work: int,
) -> ColumnPlan:
    """The best plan, or that of a tighter problem where it costs less: to be allowed more never costs."""
    problem = demand.problem
    for part in tighter:
        if best.cost <= bound or clock.out():
            break
        below = ceil(best.cost * problem.unit / part.unit)
        attainable = None if part.counts_boards else attainable_costs(part, clock)
        left = prepare(part)
        found = best_plan(
            left, clock.of_what_is_left(), seed, None, attainable, most_work, below, no_dearer=False
        )
        plan = as_plan_of(demand, left, found.plan, range(len(problem.pieces)))
        if plan is not None and plan.cost < best.cost:
            best = plan
    return best


def attainable_costs(problem: CuttingProblem, clock: Clock) -> Attainable:
    """Proved bounds on the number of boards: of all, and of each code for the pieces that only it may serve."""
    floors = []
    for board in problem.boards:
        only = tuple(piece for piece in problem.pieces if piece.boards == (board.code,))
        floors.append(fewest_boards(problem.model_copy(update={"pieces": only}), clock) if only else 0)
    return Attainable(
        problem.solver_prices,
        tuple(floors),
        max(fewest_boards(problem, clock), sum(floors)),
    )


def fewest_boards(problem: CuttingProblem, clock: Clock) -> int:
    """A proved bound on the number of boards whatever they cost: the linear program at price one each."""
    return int(proved_bound(counting_boards(problem), clock))


def counting_boards(problem: CuttingProblem) -> CuttingProblem:
    """The problem with the number of boards as its objective."""
    return problem.model_copy(update={"objective": Objective.FEWEST_BOARDS})


def proved_bound(problem: CuttingProblem, clock: Clock | None = None) -> Cents:
    """What no plan can cost less than, by column generation alone, in the objective's unit.

    Bounded by counts without a clock; with one it holds however soon it is stopped.
    """
    clock = clock or Clock(None)
    demand = prepare(problem)
    start = complete(demand, [])
    generation = ColumnGeneration(demand, start, clock.left)
    generation.master.by_primal_simplex()
    # as soon as the master's value rounds up to the bound, no column raises it to another whole cost
    generation.run(lambda: min(start.cost, generation.rounded_up_bound(generation.value)), clock.out)
    return in_the_unit_of(problem, generation.lower_bound)
