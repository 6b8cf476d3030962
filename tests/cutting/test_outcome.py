"""What the parts of a problem come to together."""

from __future__ import annotations

from optimiser.cutting.outcome import Solved, result_of
from optimiser.cutting.problem import Board, CuttingProblem, FirstAnswer, Objective

EMPTY = CuttingProblem(
    boards=(Board(length_mm=1200, width_mm=1000),), pieces=(), objective=Objective.FEWEST_BOARDS
)


def test_the_first_answer_costs_what_those_of_all_parts_cost_and_was_there_with_the_last() -> None:
    parts = [
        Solved(first=FirstAnswer(cost=2, seconds=0.25), cost_seconds=1.5),
        Solved(),
        Solved(first=FirstAnswer(cost=3, seconds=0.125), cost_seconds=0.5),
    ]
    result = result_of(EMPTY, parts, 2.0)
    assert result.first_answer == FirstAnswer(cost=5, seconds=0.25)
    assert result.cost_seconds == 1.5


def test_where_nothing_is_cut_there_is_no_first_answer() -> None:
    assert result_of(EMPTY, [Solved()], 0.0).first_answer is None


def test_the_boards_that_parts_need_add_up() -> None:
    result = result_of(EMPTY, [Solved(bound=2, fewest_boards=2), Solved(bound=1, fewest_boards=1)], 0.0)
    assert (result.lower_bound, result.optimal) == (3, False)
