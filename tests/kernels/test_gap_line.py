"""The gap line of the references: tapers by trying every pair of end widths, reach by trying every end."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.kernels.reference.gap_line import GapLine, Rates, Widths


@st.composite
def widths(draw: st.DrawFn) -> Widths:
    length = draw(st.integers(2, 40))
    at = sorted(draw(st.sets(st.integers(0, length), min_size=1, max_size=4)))
    base = draw(st.integers(20, 90))
    gaps = [base + draw(st.integers(-6, 6)) for _ in at]
    rates = Rates(100, draw(st.sampled_from((105, 110))), draw(st.sampled_from((110, 115, 130))))
    return Widths(GapLine(at, gaps), length, rates)


def least_taper(of: Widths, widest: int, most: int = 1000) -> tuple[int, int] | None:
    end = len(of.least) - 1
    low, high = Fraction(of.rates.least, of.rates.unit), Fraction(of.rates.greatest, of.rates.unit)

    def stays_within(a: int, b: int) -> bool:
        edge = [Fraction(a * (end - x) + b * x, end) for x in range(end + 1)]
        return all(of.gap.at(x) * low <= width <= of.gap.at(x) * high for x, width in enumerate(edge))

    found = [
        (max(a, b), a + b, a, b)
        for a in range(of.least[0], min(of.greatest[0], widest) + 1)
        for b in range(of.least[end], min(of.greatest[end], widest) + 1)
        if abs(a - b) <= most and stays_within(a, b)
    ]
    return min(found)[2:] if found else None


@settings(max_examples=200, deadline=None)
@given(widths(), st.integers(30, 110), st.integers(0, 14))
def test_a_taper_is_the_least_of_all_pairs_of_end_widths(of: Widths, widest: int, most: int) -> None:
    assert of.taper(0, len(of.least) - 1, widest, most) == least_taper(of, widest, most)


def test_of_tapers_with_equal_wider_ends_the_less_sum_is_taken_though_its_start_is_the_wider() -> None:
    """122 to 123 would do, 123 to 121 as well: at 24 mm the edge must be 122.1 wide."""
    of = Widths(GapLine([0, 24, 54], [109, 111, 104]), 54, Rates(100, 110, 130))
    assert of.taper(0, 54, 1000, 1000) == (123, 121) == least_taper(of, 1000)


@settings(max_examples=200, deadline=None)
@given(widths(), st.integers(30, 110), st.integers(1, 45))
def test_a_reach_goes_as_far_as_one_width_serves(of: Widths, widest: int, longest: int) -> None:
    end = len(of.least) - 1
    for p, far in enumerate(of.reach(widest, longest)):
        served = [e for e in range(p, min(end, p + longest) + 1) if _one_width_serves(of, p, e, widest)]
        assert far == max(served, default=p - 1)


def _one_width_serves(of: Widths, from_mm: int, to_mm: int, widest: int) -> bool:
    span = of.span(from_mm, to_mm)
    return span.width_min <= min(span.width_max, widest)


@settings(max_examples=200, deadline=None)
@given(widths(), st.sampled_from((0, 2, 5, 10**6)))
def test_where_a_taper_exists_a_straight_edge_does(of: Widths, most: int) -> None:
    end = len(of.least) - 1
    if of.taper(0, end, 10**6, most) is not None:
        assert of.straight_edge_exists(0, end, most)


@pytest.mark.parametrize(("most", "exists"), [(38, True), (37, False)])
def test_a_straight_edge_rises_by_no_more_than_it_may(most: int, exists: bool) -> None:
    """From 150 mm, where 172.5 mm is the widest, to 191, where 210.1 is the narrowest: 37.6 mm at the least."""
    of = Widths(GapLine([0, 1000], [150, 191]), 1000, Rates(100, 110, 115))
    assert of.straight_edge_exists(0, 1000, most) == exists


@pytest.mark.parametrize(("middle", "exists"), [(150, True), (156, True), (157, False), (143, False)])
def test_a_straight_edge_cannot_follow_too_great_a_bulge(middle: int, exists: bool) -> None:
    """Cut widths from 110 to 115 %: at ends of 150 mm an edge reaches 172.5, and 157 mm need 172.7."""
    of = Widths(GapLine([0, 500, 1000], [150, middle, 150]), 1000, Rates(100, 110, 115))
    assert of.straight_edge_exists(0, 1000, 10**6) == exists
