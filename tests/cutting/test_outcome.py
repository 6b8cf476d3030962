"""What the parts of a problem come to together."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from optimiser.cutting.outcome import Solved, _on_the_grid, result_of
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


def test_a_bound_on_the_sum_is_lifted_to_the_next_sum_that_can_be_but_not_above_what_is_found() -> None:
    """Carrying at 0.25 makes sums of quarters: of a bound of 3.1 nothing below 3.25 can be; where 3.25 is found, no
    more than that is proved by 3.3."""
    quarters = EMPTY.model_copy(update={"carry_cost": Decimal("0.25")})
    for bound, found, proved in (("3.1", "5", "3.25"), ("3.25", "5", "3.25"), ("3.3", "3.25", "3.25")):
        assert _on_the_grid(quarters, Fraction(bound), Decimal(found)) == Decimal(proved)
    assert _on_the_grid(quarters, Fraction(3), None) is None
    assert _on_the_grid(EMPTY, Fraction(3), Decimal(5)) is None
