"""The strips that a board is worth opening for, at the prices of strips and of places on the rack."""

from __future__ import annotations

from itertools import product
from random import Random

import pytest

from optimiser.boards.opening_prices import Strips, WorthByRoom

Wanted = list[dict[int, int]]
Price = list[dict[int, float]]


def worth_of(strips: Strips, level: int, price: Price, place: list[float]) -> float:
    """The prices of the strips less the places from the level to the last of them."""
    last = max((at for at, _, _ in strips), default=level)
    return sum(price[at][width] * number for at, width, number in strips) - sum(place[level:last])


def most_by_trying_all(level: int, room: int, wanted: Wanted, price: Price, place: list[float]) -> float:
    kinds = [(at, width) for at in range(level, len(wanted)) for width in wanted[at]]
    best = 0.0
    for numbers in product(*(range(wanted[at][width] + 1) for at, width in kinds)):
        strips = tuple((*kind, number) for kind, number in zip(kinds, numbers, strict=True) if number)
        if sum(width * number for _, width, number in strips) <= room:
            best = max(best, worth_of(strips, level, price, place))
    return best


@pytest.mark.parametrize("seed", range(10))
def test_every_room_is_worth_what_the_best_strips_are(seed: int) -> None:
    draw = Random(seed)
    wanted = [{draw.randint(3, 9): draw.randint(1, 2) for _ in range(2)} for _ in range(3)]
    price = [{width: draw.random() for width in strips} for strips in wanted]
    place = [draw.choice((0.0, 0.2, 0.6)) for _ in range(2)]
    worth = WorthByRoom.of(wanted, price, place, 25)
    for level in range(3):
        for room in (0, 8, 15, 20, 25):
            most = most_by_trying_all(level, room, wanted, price, place)
            strips = worth.strips(level, room)
            assert worth.value[level][room] == pytest.approx(most, abs=1e-6)
            assert worth_of(strips, level, price, place) == pytest.approx(most, abs=1e-6)
            assert sum(width * number for _, width, number in strips) <= room
            assert all(number <= wanted[at][width] for at, width, number in strips)


def test_a_dear_place_on_the_rack_leaves_later_strips_to_boards_of_their_own() -> None:
    wanted, price = [{6: 1}, {4: 1}], [{6: 0.6}, {4: 0.3}]
    assert WorthByRoom.of(wanted, price, [0.2], 10).strips(0, 10) == ((0, 6, 1), (1, 4, 1))
    assert WorthByRoom.of(wanted, price, [0.4], 10).strips(0, 10) == ((0, 6, 1),)
