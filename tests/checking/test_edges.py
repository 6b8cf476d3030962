"""Pieces of a curved run are so short that their chord leaves the arc by no more than the detail allows."""

from __future__ import annotations

import pytest

from optimiser.checking.building import Building
from optimiser.checking.edges import broken_rules_of_edges
from tests.builders.checking_examples import plan_with


@pytest.mark.parametrize(
    ("radius_mm", "offset_mm", "told"),
    [
        (1850, 100, False),  # 1200 squared is 8 x 1850 x 100 - 4 x 100 squared
        (1849, 100, True),
        (1850, 99, True),
        (3625, 50, False),  # and 8 x 3625 x 50 - 4 x 50 squared
        (3624, 50, True),
        (100, 100, False),  # an offset of the whole radius bars nothing
    ],
)
def test_a_chord_leaves_its_arc_by_the_offset_at_the_most(radius_mm: int, offset_mm: int, told: bool) -> None:
    """L02's pieces are 1200 mm long."""
    plan = plan_with({"project.runs.1.radius_mm": radius_mm, "project.detail.curve_offset_max_mm": offset_mm})
    broken = list(broken_rules_of_edges(Building(plan.project, plan)))
    assert broken == [
        f"run L02-N, piece L02-N-00{number}: with 1200 mm its chord leaves the curve of radius {radius_mm} mm by more"
        f" than curve_offset_max_mm {offset_mm}"
        for number in (1, 2)
        if told
    ]
