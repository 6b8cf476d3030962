"""Which costs whole boards can have: the least from a bound on, against every combination."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from optimiser.cutting.attainable import Attainable


def least_of_all(prices: tuple[int, ...], floors: tuple[int, ...], fewest: int, bound: int) -> int:
    """Every number of boards of each code up to what reaches the bound and the fewest by itself."""
    most = max(bound, fewest, *floors) + 1
    numbers = product(*(range(floor, most + 1) for floor in floors))
    return min(
        cost
        for counts in numbers
        for cost in [sum(price * count for price, count in zip(prices, counts, strict=True))]
        if cost >= bound and sum(counts) >= fewest
    )


def test_between_two_sizes_no_plan_costs_what_no_boards_add_up_to() -> None:
    """Boards of 443 and 530: two of them cost 886, 973 or 1060."""
    attainable = Attainable((443, 530), (0, 0), 2)
    assert [attainable.least(bound) for bound in (1, 500, 887, 974, 1061)] == [886, 886, 973, 1060, 1329]


def test_pieces_that_only_the_dear_boards_serve_are_paid_for() -> None:
    assert Attainable((443, 530), (0, 2), 2).least(1) == 1060
    assert Attainable((443, 530), (1, 1), 2).least(1) == 973


@pytest.mark.parametrize("seed", range(40))
def test_the_least_cost_from_a_bound_on_is_that_of_some_numbers_of_boards(seed: int) -> None:
    random = Random(f"attainable {seed}")
    codes = random.randint(1, 3)
    prices = tuple(random.randint(1, 9) for _ in range(codes))
    floors = tuple(random.randint(0, 2) for _ in range(codes))
    fewest = max(sum(floors), random.randint(0, 5))
    attainable = Attainable(prices, floors, fewest)
    for bound in range(0, 20, 3):
        assert attainable.least(bound) == least_of_all(prices, floors, fewest, bound)


def test_free_boards_cost_nothing_and_leave_a_bound_as_it_is() -> None:
    assert Attainable((0,), (3,), 3).least(7) == 7
    assert Attainable((0, 4), (0, 0), 1).least(5) == 8
