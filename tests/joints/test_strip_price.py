"""What a piece takes of its strip, in sixteenths of a square millimetre: worked out by hand for a board of 1200 mm."""

from __future__ import annotations

import pytest

from optimiser.joints.strip_price import strip_price


@pytest.mark.parametrize(
    ("length", "sixteenths_a_millimetre_wide"),
    [(300, 5_100), (600, 10_200), (601, 14_408), (800, 16_000), (801, 19_200), (1200, 19_200)],
)
def test_a_piece_takes_its_strip_by_its_length(length: int, sixteenths_a_millimetre_wide: int) -> None:
    """Short ones 17 sixteenths of a millimetre for each of their own, longer than half of it half of what they leave
    too, and beyond two thirds the whole strip."""
    price = strip_price(frozenset([1200]), 1000)
    assert price is not None
    for width in (0, 1, 100, 1000):
        assert price.cost[length, width] == sixteenths_a_millimetre_wide * width


def test_of_two_boards_the_one_that_loses_less_counts() -> None:
    both = strip_price(frozenset([1000, 1200]), 200)
    short = strip_price(frozenset([1000]), 200)
    assert both is not None
    assert short is not None
    assert both.cost[1000, 100] == short.cost[1000, 100] == 1_600_000
    assert both.cost[1200, 100] == 1_920_000


def test_boards_so_large_that_the_table_would_be_too_have_no_price(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lengths 0 to 3 and widths 0 to 2 are twelve entries."""
    monkeypatch.setattr("optimiser.joints.strip_price.MOST_ENTRIES", 12)
    strip_price.cache_clear()
    found = strip_price(frozenset([3]), 2)
    assert found is not None
    assert found.cost.shape == (4, 3)
    assert strip_price(frozenset([4]), 2) is None
    assert strip_price(frozenset([3]), 3) is None
    strip_price.cache_clear()
