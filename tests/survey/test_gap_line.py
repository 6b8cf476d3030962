"""The gap along a run: linear between measured positions, constant beyond them, exact."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.project import Gap
from optimiser.survey.gap_line import GapAlongRun, deciding_gaps


def gaps(*rows: tuple[int, int]) -> tuple[Gap, ...]:
    return tuple(Gap(run="R", at_mm=at, gap_mm=gap) for at, gap in rows)


def test_it_is_linear_between_measured_positions_and_constant_beyond() -> None:
    along = GapAlongRun.of(gaps((1000, 150), (4000, 157)))
    assert along.at(0) == along.at(1000) == 150
    assert along.at(1001) == Fraction(150) + Fraction(7, 3000)
    assert along.at(4000) == along.at(9000) == 157


def test_rows_may_come_in_any_order() -> None:
    assert GapAlongRun.of(gaps((4000, 157), (1000, 150))) == GapAlongRun.of(gaps((1000, 150), (4000, 157)))


def test_a_run_without_a_gap_is_refused() -> None:
    with pytest.raises(ValueError, match="without a measured gap"):
        GapAlongRun.of(())


def test_a_gap_between_two_readings_is_a_fraction() -> None:
    along = GapAlongRun.of(gaps((0, 150), (3, 151)))
    assert [3 * along.at(x) for x in range(4)] == [450, 451, 452, 453]


def test_the_extremes_are_at_the_ends_or_at_positions_inside() -> None:
    along = GapAlongRun.of(gaps((0, 150), (1000, 170), (2000, 140)))
    assert along.extremes(500, 1500) == (Fraction(155), Fraction(170))
    assert along.extremes(1000, 2000) == (Fraction(140), Fraction(170))
    assert along.extremes(0, 1000) == (Fraction(150), Fraction(170))
    assert along.knots_inside(0, 2000) == (1000,)
    assert along.knots_inside(1000, 2000) == ()


RUNS = st.lists(
    st.tuples(st.integers(0, 300), st.integers(20, 400)), min_size=1, unique_by=lambda row: row[0]
)


@given(RUNS, st.integers(0, 300), st.integers(1, 60))
def test_no_gap_within_a_span_is_beyond_its_extremes(
    rows: list[tuple[int, int]], from_mm: int, length: int
) -> None:
    along = GapAlongRun.of(gaps(*rows))
    least, greatest = along.extremes(from_mm, from_mm + length)
    everywhere = [along.at(x) for x in range(from_mm, from_mm + length + 1)]
    assert least == min(everywhere)
    assert greatest == max(everywhere)


@given(RUNS, st.integers(0, 300), st.integers(1, 60))
def test_the_deciding_gaps_alone_give_the_same_gap_over_a_span(
    rows: list[tuple[int, int]], from_mm: int, length: int
) -> None:
    ordered = gaps(*sorted(rows))
    deciding = deciding_gaps(ordered, from_mm, from_mm + length)
    whole, part = GapAlongRun.of(ordered), GapAlongRun.of(deciding)
    assert all(whole.at(x) == part.at(x) for x in range(from_mm, from_mm + length + 1))


def test_a_gap_measured_exactly_at_the_end_of_a_span_decides_it_alone() -> None:
    rows = gaps((0, 150), (1200, 151), (2400, 152))
    assert [gap.at_mm for gap in deciding_gaps(rows, 0, 1200)] == [0, 1200]
    assert [gap.at_mm for gap in deciding_gaps(rows, 100, 1300)] == [0, 1200, 2400]
    assert [gap.at_mm for gap in deciding_gaps(rows, 2500, 2600)] == [2400]
