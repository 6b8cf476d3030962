"""Quantities that cover every product at once: against brute force, and never dearer than product by product."""

from __future__ import annotations

from fractions import Fraction
from itertools import product as combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.simulation.joint_quantities import (
    ProductNeeds,
    draws_to_cover,
    joint_quantities,
    least_cost_cover,
)


def cheapest_by_trying_everything(needs: np.ndarray, prices: list[int], wanted: int) -> int:
    """The least cost over every combination of needs that occur."""
    choices = [sorted(set(column)) for column in needs.T.tolist()]
    return min(
        sum(number * price for number, price in zip(packs, prices, strict=True))
        for packs in combinations(*choices)
        if (needs <= np.array(packs)).all(axis=1).sum() >= wanted
    )


@st.composite
def tiny(draw: st.DrawFn) -> tuple[np.ndarray, list[int], int]:
    products, draws = draw(st.integers(1, 3)), draw(st.integers(1, 9))
    rows = st.lists(st.integers(0, 6), min_size=products, max_size=products)
    needs = np.array(draw(st.lists(rows, min_size=draws, max_size=draws)), dtype=np.int64)
    prices = draw(st.lists(st.integers(0, 50), min_size=products, max_size=products))
    return needs, prices, draw(st.integers(1, draws))


@settings(max_examples=150, deadline=None)
@given(tiny())
def test_the_least_cost_of_tiny_cases_is_found_and_proved(case: tuple[np.ndarray, list[int], int]) -> None:
    needs, prices, wanted = case
    found = least_cost_cover(needs, prices, wanted)
    assert found.covered == (needs <= np.array(found.packs)).all(axis=1).sum() >= wanted
    assert found.cost_cents == sum(n * p for n, p in zip(found.packs, prices, strict=True))
    assert found.cost_cents == found.least_cost_cents == cheapest_by_trying_everything(needs, prices, wanted)
    assert found.proved


def dependent_draws(seed: int, draws: int, products: int) -> np.ndarray:
    """Needs with a common part, so that draws are high in several products at once, and a part of each one's own."""
    random = np.random.default_rng(seed)
    common = random.normal(0, 6, size=(draws, 1))
    return np.maximum(0, np.rint(40 + common + random.normal(0, 9, size=(draws, products)))).astype(np.int64)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    products=st.integers(1, 12),
    share=st.sampled_from([Fraction(1, 2), Fraction(9, 10), Fraction(19, 20), Fraction(1)]),
    per_pack=st.integers(1, 30),
)
def test_the_share_is_covered_jointly_and_never_dearer_than_product_by_product(
    seed: int, products: int, share: Fraction, per_pack: int
) -> None:
    needs = dependent_draws(seed, 200, products)
    prices = [100 + 37 * p for p in range(products)]
    asked = [ProductNeeds(str(p), 3 * p, needs[:, p], 30, per_pack, prices[p]) for p in range(products)]
    found = joint_quantities(asked, 200, share)
    wanted = draws_to_cover(200, share)
    on_top = np.array([found.on_top[str(p)] for p in range(products)])
    covered = (needs <= on_top).all(axis=1).sum()
    assert covered == found.cover.covered >= wanted
    assert (on_top >= 30).all()
    for p, one in enumerate(asked):
        assert one.packs_for(on_top[p]) <= found.cover.packs[p]
    # product by product, each at the least share at which all together reach the joint one
    ascending = np.sort(np.maximum(needs, 30), axis=0)
    rank = next(r for r in range(200) if (needs <= ascending[r]).all(axis=1).sum() >= wanted)
    alone = sum(int(one.packs_for(ascending[rank][p])) * prices[p] for p, one in enumerate(asked))
    assert found.cover.cost_cents <= alone
    assert found.cover.least_cost_cents <= found.cover.cost_cents


def test_each_product_alone_at_the_share_covers_far_fewer_draws_together() -> None:
    needs = np.random.default_rng(1).poisson(20, size=(300, 12)).astype(np.int64)
    asked = [ProductNeeds(str(p), 0, needs[:, p], 0, 1, 100) for p in range(12)]
    found = joint_quantities(asked, 300, 0.95)
    assert found.covered_alone < 200 < 285 <= found.cover.covered
    assert all((needs[:, p] <= found.alone[str(p)]).sum() >= 285 for p in range(12))


def test_packs_that_are_paid_for_cover_more_draws_for_nothing() -> None:
    needs = np.array([[1], [2], [3], [4], [5]], dtype=np.int64)
    (asked,) = [ProductNeeds("B", 0, needs[:, 0], 0, 4, 100)]
    found = joint_quantities([asked], 5, Fraction(2, 5))
    assert (found.alone, found.on_top, found.cover.packs, found.cover.covered) == (
        {"B": 2},
        {"B": 4},
        (1,),
        4,
    )


def test_without_prices_the_fewest_packs_are_taken() -> None:
    needs = np.array([[1, 9], [9, 1], [1, 1]], dtype=np.int64)
    found = least_cost_cover(needs, [0, 0], 2)
    assert sum(found.packs) == 10


def test_of_two_equal_draws_the_cheaper_product_is_bought() -> None:
    needs = np.array([[1, 0], [0, 1], [0, 0], [0, 0]], dtype=np.int64)
    assert least_cost_cover(needs, [500, 300], 3).packs == (0, 1)


@pytest.mark.parametrize(
    ("share", "covered"), [(0.95, 285), (Fraction(19, 20), 285), (0.951, 286), (1.0, 300)]
)
def test_the_share_is_counted_as_it_is_written(share: float | Fraction, covered: int) -> None:
    assert draws_to_cover(300, share) == covered


def test_no_product_asks_for_nothing() -> None:
    assert joint_quantities([], 10, 0.95).cover.covered == 10


@pytest.mark.slow
def test_equal_draws_give_equal_quantities() -> None:
    needs = dependent_draws(4, 300, 14)
    prices = list(range(100, 114))
    assert least_cost_cover(needs, prices, 285) == least_cost_cover(needs, prices, 285)
