"""The integer steps after column generation: each finds what it is for, by itself."""

from __future__ import annotations

import pytest

from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.demand import prepare
from optimiser.cutting.generation import ColumnGeneration
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.restricted_program import restricted_program

# Widths and how many of each, on boards of 1000 mm, where the first answer takes a board more than is needed.
HARDER: tuple[tuple[tuple[int, int], ...], ...] = (
    ((476, 1), (305, 3), (285, 2), (358, 3), (405, 1), (450, 2), (210, 2)),
    ((280, 2), (282, 1), (278, 4), (387, 3), (327, 3), (410, 4), (325, 1), (186, 4)),
    ((339, 1), (365, 3), (189, 3), (349, 1), (432, 3)),
    ((361, 4), (345, 3), (459, 1), (221, 3), (315, 3), (291, 1), (372, 4)),
)


def generated(widths: tuple[tuple[int, int], ...]) -> tuple[ColumnGeneration, ColumnPlan]:
    """Column generation run to its end, and the first answer of the constructive heuristic."""
    demand = prepare(
        CuttingProblem.model_validate(
            {
                "board": {"length_mm": 1200, "width_mm": 1000},
                "pieces": [
                    {"id": f"P{width}", "length_mm": 1200, "width_min_mm": width, "width_max_mm": width,
                     "quantity": quantity}
                    for width, quantity in widths
                ],
            }
        )
    )  # fmt: skip
    first = complete(demand, [], TOLERANCES[:1])
    generation = ColumnGeneration(demand, first)
    generation.run(lambda: first.cost, lambda: False, lambda number: None)
    return generation, first


@pytest.mark.parametrize("widths", HARDER)
def test_the_integer_program_over_the_columns_saves_the_board_that_the_first_answer_wastes(
    widths: tuple[tuple[int, int], ...],
) -> None:
    generation, first = generated(widths)
    better = restricted_program(generation, first, 1500)
    assert better.cost == generation.lower_bound == first.cost - 1


def test_the_integer_program_never_hands_back_more_than_it_was_given() -> None:
    generation, _ = generated(HARDER[0])
    best = restricted_program(generation, generated(HARDER[0])[1], 1500)
    assert restricted_program(generation, best, 1500) is best
