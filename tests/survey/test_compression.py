"""The compression window: least and greatest cut width over a span, in exact arithmetic."""

from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.project import Detail
from optimiser.survey.compression import WidthRates, compression_window
from optimiser.survey.gap_line import GapAlongRun

RATES = WidthRates.of(Detail(oversize_min=Decimal("0.10"), oversize_max=Decimal("0.15")))


def test_a_150_mm_gap_is_cut_165_mm() -> None:
    """Common practice, no source: 10 % oversize."""
    assert RATES.width_min(150) == 165
    assert RATES.width_max(150) == 172


def test_binary_floats_would_cut_a_110_mm_gap_a_millimetre_too_wide() -> None:
    assert ceil(110 * 1.1) == 122
    assert RATES.width_min(110) == 121


def test_the_window_is_that_of_the_greatest_and_the_least_gap() -> None:
    along = GapAlongRun((0, 1000), (150, 153))
    assert compression_window(RATES, along, 0, 1000) == (169, 172)
    assert compression_window(RATES, along, 0, 0) == (165, 172)
    assert compression_window(RATES, GapAlongRun((0, 1000), (150, 160)), 0, 1000) == (176, 172)


@given(
    st.integers(1, 10**7),
    st.integers(1, 10**7),
    st.decimals(0, 1, places=4),
    st.decimals(0, 1, places=4),
)
def test_widths_are_rounded_exactly(numerator: int, denominator: int, one: Decimal, other: Decimal) -> None:
    low, high = sorted((one, other))
    rates = WidthRates.of(Detail(oversize_min=low, oversize_max=high))
    gap = Fraction(numerator, denominator)
    assert rates.width_min(numerator, denominator) == ceil(gap * (1 + Fraction(low)))
    assert rates.width_max(numerator, denominator) == floor(gap * (1 + Fraction(high)))


def test_a_rate_with_more_decimals_than_any_detail_has_is_refused() -> None:
    with pytest.raises(ValueError, match="nine decimals"):
        WidthRates.of(Detail(oversize_min=Decimal("0.1000000000001")))


@pytest.mark.parametrize("rate", ["0.1000000001", "0.1000000005"])
def test_nine_decimals_are_exact_and_a_tenth_is_refused(rate: str) -> None:
    fine = WidthRates.of(Detail(oversize_min=Decimal("0.100000001"), oversize_max=Decimal("0.999999999")))
    assert fine.width_min(10**6) == 1_100_001
    assert fine.width_max(10**9) == 1_999_999_999
    with pytest.raises(ValueError, match="nine decimals"):
        WidthRates.of(Detail(oversize_min=Decimal(rate)))
