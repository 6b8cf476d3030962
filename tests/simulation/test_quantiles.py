"""Order quantities from draws: quantile, its interval and the newsvendor's rule, against closed forms."""

from __future__ import annotations

import random
from math import ceil
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.simulation.quantiles import (
    at_ranks,
    critical_fractile,
    expected_cost,
    interval_ranks,
    quantile,
)


@given(st.lists(st.integers(0, 50), min_size=1, max_size=60), st.floats(0.001, 1))
def test_the_quantile_is_the_least_value_that_covers_its_share(values: list[int], level: float) -> None:
    ascending = sorted(values)
    found = quantile(ascending, level)
    assert sum(value <= found for value in values) >= level * len(values) * (1 - 1e-12)
    assert sum(value < found for value in values) < level * len(values) * (1 + 1e-12)


def test_a_level_that_binary_floats_cannot_hold_is_exact() -> None:
    # 0.07 x 100 is 7.000000000000001 in binary: the quantile is the seventh value, not the eighth
    assert ceil(0.07 * 100) == 8
    assert quantile(list(range(1, 101)), 0.07) == 7


@pytest.mark.parametrize(("level", "values"), [(0.0, [1]), (1.5, [1]), (0.5, [])])
def test_a_quantile_of_nothing_is_refused(level: float, values: list[int]) -> None:
    with pytest.raises(ValueError, match="quantile"):
        quantile(values, level)


@pytest.mark.parametrize(("draws", "ranks"), [(6, (1, 6)), (10, (2, 9)), (20, (6, 15)), (25, (8, 18))])
def test_the_medians_interval_is_that_of_the_sign_test(draws: int, ranks: tuple[int, int]) -> None:
    """The binomial table of the sign test at 95 % (from memory, confirmed by summing binomials)."""
    assert interval_ranks(draws, 0.5) == ranks


def test_too_few_draws_leave_a_side_open() -> None:
    assert interval_ranks(5, 0.5) == (0, 6)
    assert at_ranks([1, 2, 3, 4, 5], interval_ranks(5, 0.5)) == (None, None)
    # all of n draws lie below the 95 % quantile with the chance 0.95^n: 2.62 % of 71, 2.49 % of 72
    assert interval_ranks(71, 0.95)[1] == 72
    assert interval_ranks(72, 0.95)[1] == 72


@pytest.mark.parametrize("level", [0.5, 0.8, 0.95])
def test_the_interval_covers_the_truth_as_often_as_it_claims(level: float) -> None:
    draws = random.Random(20)
    truth = round(NormalDist(10**6, 10**5).inv_cdf(level))
    lower, upper = interval_ranks(200, level)
    covered = 0
    for _ in range(1000):
        sample = sorted(round(draws.gauss(10**6, 10**5)) for _ in range(200))
        covered += sample[lower - 1] <= truth <= sample[upper - 1]
    # at least 95 %, and little more, less three standard deviations of a thousand trials
    assert 950 - 21 <= covered <= 985


def test_the_interval_covers_a_whole_numbered_truth_too() -> None:
    draws = random.Random(3)
    truth = 8  # of the sum of two dice: P(<= 7) = 21/36, P(<= 8) = 26/36
    covered = 0
    for _ in range(400):
        sample = sorted(draws.randint(1, 6) + draws.randint(1, 6) for _ in range(100))
        low, high = at_ranks(sample, interval_ranks(100, 0.65))
        covered += low is not None and high is not None and low <= truth <= high
    assert covered >= 0.95 * 400 - 13


def test_the_critical_fractile_is_the_newsvendors() -> None:
    """Underage over underage plus overage: K. J. Arrow, T. Harris and J. Marschak, Econometrica 19 (1951)."""
    assert critical_fractile(9, 1) == 0.9
    assert critical_fractile(5, 0) == 1.0
    for wrong in ((0, 1), (-1, 1), (1, -1)):
        with pytest.raises(ValueError, match="shortage"):
            critical_fractile(*wrong)


@given(
    st.lists(st.integers(0, 40), min_size=1, max_size=40),
    st.integers(1, 20),
    st.integers(0, 20),
)
def test_no_other_quantity_costs_less_than_the_critical_quantile(
    values: list[int], shortage: int, surplus: int
) -> None:
    order = quantile(sorted(values), critical_fractile(shortage, surplus))
    least = min(expected_cost(values, quantity, shortage, surplus) for quantity in range(42))
    assert expected_cost(values, order, shortage, surplus) == pytest.approx(least)


def test_of_uniform_demand_the_textbooks_quantity_is_ordered() -> None:
    # demand uniform on 1 .. 100, 3 per one missing, 1 per one left over: 75 (any textbook's newsvendor example)
    assert quantile(list(range(1, 101)), critical_fractile(3, 1)) == 75
