"""Boards that must be nearly full: every way to fill them, and what that settles."""

from __future__ import annotations

from itertools import combinations_with_replacement
from random import Random

import numpy as np
import pytest

from benchmarks.instances.real_projects import facade_in_sizes
from benchmarks.open_groups import MIXTURES
from optimiser.checking import broken_rules_of_result
from optimiser.cutting import filled_boards
from optimiser.cutting.demand import prepare
from optimiser.cutting.filled_boards import ways_to_fill
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.solve import solve
from optimiser.cutting.whole_strips import WholeStrips


@pytest.mark.parametrize("seed", range(20))
def test_every_way_is_told_once(seed: int) -> None:
    random = Random(f"ways {seed}")
    sizes = sorted(random.sample(range(3, 12), random.randint(1, 4)))
    room, spare = random.randint(3, 30), random.randint(0, 12)
    tried = [
        way
        for number in range(room // sizes[0] + 1)
        for way in combinations_with_replacement(range(len(sizes)), number)
        if 0 <= room - sum(sizes[k] for k in way) <= spare
    ]
    assert sorted(ways_to_fill(sizes, room, spare) or []) == sorted(tried)


def test_too_many_ways_are_none(monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(ways_to_fill([200, 300], 1000, 100) or []) == 4
    monkeypatch.setattr(filled_boards, "MOST_WAYS", 3)
    assert ways_to_fill([200, 300], 1000, 100) is None


def strips_across(widths: list[int], board: int) -> CuttingProblem:
    """Pieces as long as their board, so that each is a strip."""
    return CuttingProblem(
        boards=(Board(length_mm=1000, width_mm=board),),
        objective=Objective.FEWEST_BOARDS,
        pieces=tuple(
            Piece(id=f"P{k}", length_mm=1000, width_min_mm=width, width_max_mm=width)
            for k, width in enumerate(widths)
        ),
    )


@pytest.mark.parametrize(
    ("boards", "widths"),
    [
        (5, [119, 125, 125, 125, 131, 131, *[151] * 6, 154, 157, 157, 168, 173, 173, 177, 177]),
        (4, [102, 122, 127, 127, 127, *[145] * 6, 147, 147, 147, 161, 161, 161]),
    ],
)
def test_strips_that_fit_in_fractions_and_not_in_whole_boards_are_settled(
    boards: int, widths: list[int]
) -> None:
    """So many boards of 600 are wide enough in all, by every condition too, and cannot be filled."""
    assert sum(widths) <= boards * 600
    demand = prepare(strips_across(widths, 600))
    of_widths = [family.widths.astype(np.int64) for family in demand.families]
    assert WholeStrips(demand, of_widths).fit((boards,), 2.0).fits is None
    assert WholeStrips(demand, of_widths).fit((boards,), 2.0, one_by_one=True).fits is False
    assert WholeStrips(demand, of_widths).fit((boards + 1,), 2.0, one_by_one=True).fits is True


@pytest.mark.slow
def test_three_sizes_are_proved_that_strips_alone_leave_open() -> None:
    """87,300 before, with a bound of 86,500: short boards filled one by one show that 87,000 is the least."""
    posed = facade_in_sizes("S", 13, MIXTURES["three sizes"])
    result = solve(posed, waiting=False)
    assert broken_rules_of_result(result, posed) == []
    assert (result.cost, result.optimal) == (87_000, True)
