"""Offcuts of many lengths: a strip never moves into stock that is too short for all its pieces."""

from __future__ import annotations

import random

import pytest

from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.solve import solve

# Length, least and greatest width, stage: with these offcuts two pieces of a strip once moved into a short one.
PIECES = (
    (1200, 175, 180, 3),
    (1200, 175, 180, 3),
    (580, 173, 174, 3),
    (1200, 175, 179, 3),
    (300, 167, 173, 3),
    (1200, 174, 179, 4),
    (1200, 175, 175, 4),
    (735, 191, 196, 4),
    (465, 188, 190, 4),
    (340, 183, 186, 4),
    (345, 181, 186, 4),
    (855, 187, 189, 4),
    (300, 175, 179, 4),
    (900, 174, 174, 4),
    (300, 167, 172, 5),
)
OFFCUTS = (
    (350, 160),
    (362, 177),
    (412, 184),
    (450, 176),
    (450, 191),
    (474, 148),
    (500, 190),
    (526, 158),
    (584, 177),
    (688, 182),
    (1200, 125),
    (1200, 130),
    (1200, 141),
    (1200, 164),
    (1200, 351),
    (1200, 352),
    (650, 168),
    (345, 171),
    (550, 171),
    (855, 170),
    (860, 170),
    (580, 167),
    (335, 161),
    (865, 157),
    (300, 157),
    (645, 159),
    (870, 171),
    (460, 158),
    (340, 164),
    (330, 164),
    (890, 160),
    (300, 164),
    (555, 157),
    (855, 163),
    (900, 153),
    (300, 167),
)


def test_a_strip_moves_only_where_all_its_pieces_fit_together() -> None:
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "trim": True,
            "pieces": [
                {
                    "id": f"P{n}",
                    "length_mm": length,
                    "width_min_mm": low,
                    "width_max_mm": high,
                    "stage": stage,
                }
                for n, (length, low, high, stage) in enumerate(PIECES)
            ],
            "offcuts": [
                {"id": f"F{n}", "length_mm": length, "width_mm": width, "stage": 3}
                for n, (length, width) in enumerate(OFFCUTS)
            ],
            "max_carry_stages": 1,
        }
    )
    assert broken_rules_of_result(solve(problem), problem) == []


@pytest.mark.parametrize("seed", range(12))
def test_many_short_offcuts_and_limited_carrying(seed: int) -> None:
    draw = random.Random(seed)
    pieces = [
        {
            "id": f"P{number}",
            "length_mm": draw.choice((1200, 300, 340, 345, 465, 580, 735, 855, 900)),
            "width_min_mm": (width := draw.randint(167, 191)),
            "width_max_mm": width + draw.randint(0, 6),
            "stage": draw.choice((3, 4, 4, 5)),
        }
        for number in range(18)
    ]
    offcuts = [
        {
            "id": f"F{number}",
            "length_mm": draw.randint(300, 900),
            "width_mm": draw.randint(150, 200),
            "stage": 3,
        }
        for number in range(30)
    ]
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "trim": True,
            "pieces": pieces,
            "offcuts": offcuts,
            "max_carry_stages": draw.choice((1, 2)),
        }
    )
    assert broken_rules_of_result(solve(problem), problem) == []
