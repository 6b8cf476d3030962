"""How long a piece of a curve may be: never more than its chord allows, and a millimetre more would be too long."""

from __future__ import annotations

from math import pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.project import Detail, Run
from optimiser.survey.curves import longest_on_curve_mm, longest_piece_mm


@given(st.integers(2, 10**7), st.integers(1, 500))
def test_the_longest_chord_leaves_its_curve_by_no_more_than_the_offset(radius: int, offset: int) -> None:
    """s <= r - sqrt(r2 - c2/4), in whole numbers: 4 (r - s)2 <= 4 r2 - c2."""
    longest = longest_on_curve_mm(radius, offset)
    if offset >= radius:
        assert longest is None
        return
    assert longest is not None
    assert 4 * (radius - offset) ** 2 <= 4 * radius**2 - longest**2
    assert 4 * (radius - offset) ** 2 > 4 * radius**2 - (longest + 1) ** 2


@pytest.mark.parametrize(
    ("radius", "offset", "longest"), [(4000, 5, 399), (6000, 5, 489), (3000, 5, 346), (5, 5, None)]
)
def test_values_worked_out_by_hand(radius: int, offset: int, longest: int | None) -> None:
    """2 sqrt(2 x 4000 x 5 - 25) = 399.87 and so on."""
    assert longest_on_curve_mm(radius, offset) == longest
    if longest is not None:
        assert longest == int(2 * sqrt(2 * radius * offset - offset**2))
        assert longest < 2 * pi * radius


def test_a_straight_run_has_no_longest_piece_of_its_own() -> None:
    straight = Run(run="A", level="L1", length_mm=900, board=("B",))
    assert longest_piece_mm(straight, Detail()) is None
    curved = straight.model_copy(update={"radius_mm": 4000})
    assert longest_piece_mm(curved, Detail(curve_offset_max_mm=5)) == 399
