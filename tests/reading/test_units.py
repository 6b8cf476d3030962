"""Lengths in feet and inches are known for what they are, and the mend says their millimetres."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors.problems import CellError
from optimiser.reading.as_written import ReadAs, gap
from optimiser.reading.numbers import millimetres
from optimiser.reading.units import millimetres_of_inches


@pytest.mark.parametrize(
    ("written", "inches"),
    [
        ('5 7/8"', "5.875"),
        ("5 7/8", "5.875"),
        ("5-7/8 in", "5.875"),
        ('7/8"', "0.875"),
        ('6"', "6"),
        ("6 in.", "6"),
        ("5.875 inches", "5.875"),
        ("6'-3\"", "75"),
        ("3' 4 1/2\"", "40.5"),
        ("3’ 4 1/2”", "40.5"),
        ("4 ft 2 1/2 in", "50.5"),
        ("5 ft", "60"),
        ("5'", "60"),
    ],
)
def test_feet_inches_and_fractions_are_read(written: str, inches: str) -> None:
    assert millimetres_of_inches(written) == Decimal(inches) * Decimal("25.4")


@pytest.mark.parametrize(
    "written", ["160", "160/166", "159.5", "150 mm", "15 cm", "", "x", '5 1/0"', "5 7/8 mm"]
)
def test_nothing_else_is(written: str) -> None:
    assert millimetres_of_inches(written) is None


@pytest.mark.parametrize(
    ("written", "mend"),
    [("5.875 in", "write 150"), ('5 7/8"', "write 150"), ('5 1/2"', "write 140"), ('6"', "write 153")],
)
def test_of_a_gap_the_mend_rounds_up_as_its_decimals_are(written: str, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        gap(1, 1000)(written)
    assert slip.value.mend == mend


def test_of_a_length_it_is_the_nearest() -> None:
    with pytest.raises(CellError) as slip:
        millimetres(1, 10**6)("6'-3\"")
    assert slip.value.mend == "write 1905"


def test_a_top_and_a_bottom_in_millimetres_stay_two_readings() -> None:
    read = gap(1, 1000)("160/166")
    assert isinstance(read, ReadAs)
    assert read.value == 166


@given(st.integers(0, 60), st.integers(0, 11), st.sampled_from((2, 4, 8, 16, 32)), st.data())
def test_every_tape_measure_reading_is_the_sum_of_its_parts(
    feet: int, inches: int, under: int, data: st.DataObject
) -> None:
    over = data.draw(st.integers(1, under - 1))
    found = millimetres_of_inches(f"{feet}'-{inches} {over}/{under}\"")
    assert found is not None
    assert Fraction(found) == (12 * feet + inches + Fraction(over, under)) * Fraction("25.4")
