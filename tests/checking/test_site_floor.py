"""The storage that boards take on a day, exactly: 1200 x 1000 mm a board, or a stack of them."""

from __future__ import annotations

import pytest

from optimiser.checking.building import Building
from optimiser.checking.site_floor import storage_taken
from optimiser.model.plan import Plan
from tests.builders.broken_plans import priced, stacked
from tests.builders.levels import week

BOARD = 1200 * 1000


def standing(made: Plan, overnight: bool = False) -> list[int]:
    """Week by week, in boards or stacks."""
    building = Building(made.project, made)
    taken = [storage_taken(building, week(number), overnight) for number in range(1, 6)]
    assert all(area % BOARD == 0 for area in taken)
    return [int(area // BOARD) for area in taken]


def test_boards_stand_on_site_from_their_day_until_they_are_used() -> None:
    """Four a level and week; those of two levels come together."""
    assert standing(priced()) == [8, 4, 8, 4, 0]
    assert standing(priced(), overnight=True) == [0, 4, 0, 4, 0]


def test_a_stack_takes_the_floor_of_one_board() -> None:
    assert standing(stacked()) == [1, 1, 1, 1, 0]


@pytest.mark.parametrize("number", [0, 9])
def test_nothing_stands_there_before_the_first_boards_and_after_the_last(number: int) -> None:
    building = Building(priced().project, priced())
    assert storage_taken(building, week(number)) == 0
