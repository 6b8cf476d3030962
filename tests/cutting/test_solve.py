"""The frontier: what more boards save of the waiting, plan by plan."""

from __future__ import annotations

import pytest

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.second_aim import Budget, SecondAim, Settled
from optimiser.cutting.solve import frontier


def halves(stages: int) -> CuttingProblem:
    """Half a board for each stage: two share one, of which the later half waits."""
    return CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000),),
        pieces=tuple(
            Piece(id=f"P{stage}", length_mm=1200, width_min_mm=500, width_max_mm=500, stage=stage)
            for stage in range(1, stages + 1)
        ),
        objective=Objective.FEWEST_BOARDS,
    )


def test_each_board_more_lets_a_half_less_wait() -> None:
    problem = halves(6)
    plans = frontier(problem)
    assert [
        (plan.boards, plan.waiting.piece_stages, plan.waiting.lower_bound_piece_stages)
        for plan in plans
        if plan.waiting
    ] == [(3, 3, 3), (4, 2, 2), (5, 1, 1), (6, 0, 0)]
    assert all(broken_rules_of_result(plan, problem) == [] for plan in plans)
    assert {plan.lower_bound for plan in plans} == {3}


def test_where_nothing_may_wait_there_is_a_single_plan() -> None:
    plans = frontier(halves(4).model_copy(update={"max_carry_stages": 0}))
    assert [plan.boards for plan in plans] == [4]


@pytest.mark.parametrize(
    ("stages", "between", "paid"),
    [(8, 8, [5, 6, 7]), (8, 1, [6]), (8, 0, []), (2, 8, []), (12, 2, [8, 10])],
    ids=["as many as there are costs between", "half-way", "none asked for", "no cost between", "thirds"],
)
def test_the_plans_between_are_spread_evenly_over_the_costs(
    monkeypatch: pytest.MonkeyPatch, stages: int, between: int, paid: list[int]
) -> None:
    """From half as many boards as stages to as many; the search is left out."""
    asked: list[tuple[int, bool]] = []

    def settle(
        self: SecondAim, boards: list[OpenBoard], budget: Budget, usual: float = 1.0, *, further: bool = False
    ) -> Settled:
        if budget.cost is not None:
            asked.append((budget.cost, further))
        return Settled(boards)

    monkeypatch.setattr(SecondAim, "settle", settle)
    plans = frontier(halves(stages), plans_between=between)
    assert asked == [(cost, number > 0) for number, cost in enumerate(paid)]
    assert (plans[0].boards, plans[-1].boards) == (stages // 2, stages)
