"""To be allowed more never costs: the plan of a tighter problem is taken where it is the cheaper one."""

from __future__ import annotations

from optimiser.cutting.clock import Clock
from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.least_cost import _no_dearer_than_tighter
from optimiser.cutting.named_plans import plan_of
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece

WIDE = Board(code="wide", length_mm=1200, width_mm=1000, price_cents=9)
NARROW = Board(code="narrow", length_mm=1200, width_mm=500, price_cents=5)
FOUR = CuttingProblem(
    boards=(WIDE, NARROW),
    pieces=(Piece(id="P", length_mm=1200, width_min_mm=500, width_max_mm=500, quantity=4),),
    objective=Objective.LEAST_COST,
)


def plan_with(demand: Demand, *held: tuple[str, int]) -> ColumnPlan:
    """Boards of a code that each hold so many pieces."""
    place = {source.code: s for s, source in enumerate(demand.sources)}
    return plan_of(
        demand,
        [OpenBoard(place[code], [OpenStrip(500, [(0,)], [[0]]) for _ in range(n)]) for code, n in held],
    )


def cost_after(best: ColumnPlan, demand: Demand, bound: int, clock: Clock, *tighter: CuttingProblem) -> int:
    return _no_dearer_than_tighter(demand, best, bound, tighter, clock, 0, 10**6).cost


def test_the_cheapest_plan_of_all_tighter_problems_is_taken() -> None:
    """Two wide boards cost 18, four narrow ones 20: a plan of 19 is bettered by the wide ones alone."""
    demand = prepare(FOUR)
    wide, narrow = (FOUR.model_copy(update={"boards": (board,)}) for board in (WIDE, NARROW))
    poor = plan_with(demand, ("wide", 2), ("wide", 1), ("wide", 1))
    fair = plan_with(demand, ("wide", 2), ("narrow", 1), ("narrow", 1))
    assert (poor.cost, fair.cost) == (27, 19)
    endless = Clock(None)
    assert cost_after(poor, demand, 0, endless, narrow) == 20
    assert cost_after(fair, demand, 0, endless, narrow) == 19
    assert cost_after(poor, demand, 0, endless, narrow, wide) == 18
    assert cost_after(poor, demand, 20, endless, narrow, wide) == 20
    assert cost_after(poor, demand, 0, Clock(0.0), wide) == 27
