"""Lengths in feet and inches are known for what they are, and the mend says their millimetres."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.errors.problems import CellError
from optimiser.reading.as_written import ReadAs, gap, surveyed_millimetres, surveyed_positions
from optimiser.reading.numbers import millimetres
from optimiser.reading.tables import DETAIL, TABLES
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
        ('5⅞"', "5.875"),
        ("6'-3 ½\"", "75.5"),
        ("⅞ in", "0.875"),
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


@pytest.mark.parametrize(
    ("written", "mend"),
    [
        ('6" / 6 1/8"', "write 153/156"),
        ('6 1/8"/6"', "write 156/153"),
        ("6 in / 6.25 in", "write 153/159"),
    ],
)
def test_a_top_and_a_bottom_in_inches_have_a_mend_for_both(written: str, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        gap(1, 1000)(written)
    assert slip.value.mend == mend


@pytest.mark.parametrize(
    ("written", "mend"),
    [
        ("2'6\" 7'6\" 12'6\"", "write 762 2286 3810"),
        ("2' 6\", 7' 6\", 12'-6 1/2\"", "write 762 2286 3823"),
        ("24 in 72 in", "write 610 1829"),
        ("5' 10'", "write 1524 3048"),
    ],
)
def test_several_positions_in_inches_have_a_mend_for_all(written: str, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        surveyed_positions(surveyed_millimetres(0, 10**6))(written)
    assert slip.value.mend == mend


@pytest.mark.parametrize(
    ("table", "column", "written", "mend"),
    [
        ("products", "length_mm", '47 5/8"', "write 1209"),  # 1209.675: no board is longer than it is
        ("products", "width_mm", "39 1/2 in", "write 1003"),
        ("stock", "width_mm", '15"', "write 381"),
        ("stock", "width_mm", "380.7", "round it to a whole millimetre: write 380"),
        ("gaps", "tolerance_mm", '±1/4"', "write 7"),  # 6.35: a gap may be off by no less than was said
    ],
)
def test_a_size_is_rounded_to_the_side_that_promises_nothing(
    table: str, column: str, written: str, mend: str
) -> None:
    (found,) = (one for one in TABLES[table].columns if one.name == column)
    with pytest.raises(CellError) as slip:
        found.parse(written)
    assert slip.value.mend == mend


@pytest.mark.parametrize(
    ("rule", "written", "mend"),
    [
        ("gap_min_mm", '1 1/2"', "write 39"),  # 38.1
        ("gap_max_mm", '12"', "write 304"),  # 304.8: what was not tested is not in the range
        ("gap_max_mm", "304.8", "round it to a whole millimetre: write 304"),
        ("taper_max_mm", '1 1/8"', "write 28"),  # 28.575
        ("piece_length_min_mm", "1'", "write 305"),
        ("bracket_spacing_max_mm", "2'", "write 609"),
        ("joint_to_mullion_min_mm", '4"', "write 102"),
    ],
)
def test_a_limit_of_the_detail_is_never_widened(rule: str, written: str, mend: str) -> None:
    with pytest.raises(CellError) as slip:
        DETAIL[rule](written)
    assert slip.value.mend == mend


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
