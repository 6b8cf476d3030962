"""Problems on which a search once went on for ever: found by drawing small ones at random."""

from __future__ import annotations

import pytest

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.solve import solve


def test_a_piece_that_only_the_wider_board_takes_is_cut_where_carrying_is_limited() -> None:
    """Boards of one length share their strips; the piece is cut from a board that is wide enough for it."""
    problem = CuttingProblem.model_validate(
        {
            "boards": [
                {"code": "wide", "length_mm": 1200, "width_mm": 1000, "price_cents": 5300},
                {"code": "narrow", "length_mm": 1200, "width_mm": 600, "price_cents": 3300},
            ],
            "pieces": [
                piece("A", 1200, 650, 660, stage=1),
                piece("B", 1200, 150, 160, stage=2),
                piece("C", 1200, 150, 160, stage=4),
            ],
            "max_carry_stages": 1,
        }
    )
    result = solve(problem)
    assert not broken_rules_of_result(result, problem)
    assert (result.boards_by_code, result.optimal) == ({"wide": 3, "narrow": 1}, True)


@pytest.mark.slow
def test_the_bound_on_waiting_of_a_tiny_problem_is_not_sought_without_end() -> None:
    """Its programs take no iterations to speak of, and no bound that they prove is what can be done."""
    problem = CuttingProblem.model_validate(
        {
            "boards": [
                {"code": "B0", "length_mm": 12, "width_mm": 8, "price_cents": 5},
                {"code": "B1", "length_mm": 10, "width_mm": 9, "price_cents": 8},
            ],
            "pieces": [
                piece("P0", 8, 6, 8, stage=4) | {"boards": ["B0", "B1"]},
                piece("P1", 10, 5, 7, stage=1) | {"boards": ["B0"], "quantity": 2},
                piece("P2", 3, 8, 9, stage=3),
                piece("P3", 3, 1, 2, stage=3) | {"boards": ["B0"], "quantity": 1},
            ],
        }
    )
    result = solve(problem)
    assert not broken_rules_of_result(result, problem)
    assert result.waiting is not None
    assert result.waiting.lower_bound_piece_stages <= result.waiting.piece_stages


def piece(name: str, length: int, narrowest: int, widest: int, *, stage: int) -> dict[str, object]:
    """Three pieces alike."""
    size = {"length_mm": length, "width_min_mm": narrowest, "width_max_mm": widest}
    return {"id": name, **size, "quantity": 3, "stage": stage}
