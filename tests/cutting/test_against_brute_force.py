"""The solver never beats the minimum of tiny problems, never bounds above it, and finds it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.second_aim import Budget
from optimiser.cutting.solve import solve
from tests.builders.brute_force import Minimum, minimum_by_trying_everything
from tests.builders.tiny_cutting_problems import tiny_cutting_problems


def contradictions(problem: CuttingProblem, result: CuttingResult, minimum: Minimum) -> list[str]:
    """Everything by which a result contradicts the true minimum; empty when nothing does."""
    found = list(broken_rules_of_result(result, problem))
    if not result.lower_bound <= minimum.boards:
        found.append(f"the bound of {result.lower_bound} boards is above the minimum {minimum.boards}")
    if result.boards < minimum.boards:
        found.append(f"{result.boards} boards are fewer than the minimum {minimum.boards}")
    waiting = result.waiting
    assert waiting is not None, "a result says what waits"
    if waiting.lower_bound_piece_stages > minimum.piece_stages:
        found.append(
            f"the bound of {waiting.lower_bound_piece_stages} waiting is above {minimum.piece_stages}"
        )
    if problem.counts_boards:
        if not problem.offcuts and waiting.piece_stages != minimum.piece_stages:
            found.append(f"{waiting.piece_stages} wait, but {minimum.piece_stages} would do")
        if result.boards != minimum.boards:
            found.append(f"{result.boards} boards, but {minimum.boards} would do")
        if result.optimal != (result.lower_bound == result.boards):
            found.append(f"optimal is {result.optimal} with {result.lower_bound} to {result.boards} boards")
        return found
    if result.cost_cents is None or result.lower_bound_cents is None:
        return [*found, "several priced boards, but no cost_cents or lower_bound_cents"]
    if not result.lower_bound_cents <= minimum.cost_cents:
        found.append(f"the bound of {result.lower_bound_cents} is above {minimum.cost_cents} cents")
    if result.cost_cents != minimum.cost_cents:
        found.append(f"{result.cost_cents} cents, but the minimum is {minimum.cost_cents}")
    if result.optimal and result.lower_bound_cents != result.cost_cents:
        found.append(f"optimal, but {result.lower_bound_cents} to {result.cost_cents} cents")
    return found


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems())
def test_a_tiny_problem_is_solved_to_the_minimum_of_trying_everything(problem: CuttingProblem) -> None:
    result = solve(problem, time_limit=10, seed=0)
    assert contradictions(problem, result, minimum_by_trying_everything(problem)) == []


def problem_of(pieces: list[tuple[int, int, int, int]], **fields: Any) -> CuttingProblem:
    """Pieces as (length, width_min, width_max, stage) on boards of 10 x 10 unless `fields` say otherwise."""
    written = [
        {"id": f"P{number}", "length_mm": length, "width_min_mm": low, "width_max_mm": high, "stage": stage}
        for number, (length, low, high, stage) in enumerate(pieces)
    ]
    return CuttingProblem.model_validate({"board": board(10), "pieces": written, **fields})


def board(width: int, kerf: int = 0) -> dict[str, int]:
    return {"length_mm": 10, "width_mm": width, "kerf_mm": kerf}


def offcut(stage: int) -> list[dict[str, Any]]:
    return [{"id": "F", "length_mm": 10, "width_mm": 5, "stage": stage}]


HALVES = [(10, 5, 5, 1), (10, 5, 5, 2)]
QUARTERS = [(5, 5, 5, 1), (5, 5, 5, 1)]
TWO_STAGES_APART = [(10, 5, 5, 1), (10, 5, 5, 3)]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tiny_cutting_problems())
def test_with_a_board_more_no_more_waits_than_trying_everything_finds(problem: CuttingProblem) -> None:
    minimum = minimum_by_trying_everything(problem)
    cost = minimum.cost_cents + max(board.price_cents for board in problem.boards)
    if problem.counts_boards:
        cost = minimum.boards + 1
    result = solve(problem, time_limit=10, seed=0, budget=Budget(cost=cost))
    assert broken_rules_of_result(result, problem) == []
    assert result.waiting is not None
    assert result.cost <= cost
    assert result.waiting.lower_bound_piece_stages <= minimum.piece_stages_with_more
    if problem.counts_boards and not problem.offcuts:
        assert result.waiting.piece_stages == minimum.piece_stages_with_more


BY_HAND = {
    "a window lets two pieces share a strip": (problem_of([(5, 4, 5, 1), (5, 5, 5, 1), (10, 5, 5, 1)]), 1),
    "without it they need two strips": (problem_of([(5, 4, 4, 1), (5, 5, 5, 1), (10, 5, 5, 1)]), 2),
    "no windows that meet, so three strips": (problem_of([(5, 4, 4, 1), (5, 5, 5, 1), (5, 6, 6, 1)]), 2),
    "trimmed from a strip of 6": (problem_of([(5, 4, 4, 1), (5, 5, 5, 1), (5, 6, 6, 1)], trim=True), 1),
    "the second half is carried": (problem_of(HALVES), 1),
    "nothing is carried": (problem_of(HALVES, max_carry_stages=0), 2),
    "two stages are too far to carry": (problem_of(TWO_STAGES_APART, max_carry_stages=1), 2),
    "two stages may be carried": (problem_of(TWO_STAGES_APART, max_carry_stages=2), 1),
    "a kerf between strips is lost": (problem_of(HALVES, board=board(10, kerf=1)), 2),
    "one kerf for two strips": (problem_of(HALVES, board=board(11, kerf=1)), 1),
    "a kerf between pieces is lost": (problem_of(QUARTERS, board=board(9, kerf=1)), 2),
    "an offcut saves a board": (problem_of(HALVES, max_carry_stages=0, offcuts=offcut(1)), 1),
    "an offcut comes too late": (problem_of(HALVES, max_carry_stages=0, offcuts=offcut(3)), 2),
    "an offcut would be carried too far": (
        problem_of([(10, 5, 5, 2)], max_carry_stages=1, offcuts=offcut(0)),
        1,
    ),
    "an offcut is carried": (problem_of([(10, 5, 5, 2)], max_carry_stages=2, offcuts=offcut(0)), 0),
}


@pytest.mark.parametrize(("problem", "boards"), BY_HAND.values(), ids=BY_HAND)
def test_the_minimum_counted_by_hand(problem: CuttingProblem, boards: int) -> None:
    """Both the solver and the brute force that judges it elsewhere agree with what is counted by hand."""
    assert minimum_by_trying_everything(problem).boards == boards
    result = solve(problem, time_limit=10, seed=0)
    assert contradictions(problem, result, minimum_by_trying_everything(problem)) == []


def test_the_cheapest_mixture_counted_by_hand() -> None:
    """Three halves: a large board takes two for 9, a small one takes the third for 5; two large cost 18."""
    problem = CuttingProblem.model_validate(
        {
            "boards": [
                {"code": "large", "length_mm": 10, "width_mm": 10, "price_cents": 9},
                {"code": "small", "length_mm": 10, "width_mm": 5, "price_cents": 5},
            ],
            "pieces": [{"id": "P", "length_mm": 10, "width_min_mm": 5, "width_max_mm": 5, "quantity": 3}],
        }
    )
    assert minimum_by_trying_everything(problem)[:2] == (2, 14)
    result = solve(problem, time_limit=10, seed=0)
    assert contradictions(problem, result, Minimum(2, 14)) == []
    assert result.boards_by_code == {"large": 1, "small": 1}
