"""The exact model of waiting is asked of few pieces on few boards, and says what is least."""

from __future__ import annotations

import pytest

from optimiser.cutting.demand import prepare
from optimiser.cutting.exact_waiting import MOST_PIECES, MOST_PLACES, LeastWaiting, applies, least_waiting
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.waiting import waits


def halves(*stages: int, quantity: int = 1, carry: int | None = None) -> CuttingProblem:
    """Full-length pieces of half a board's width."""
    return CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000),),
        pieces=tuple(
            Piece(
                id=f"P{k}", length_mm=1200, width_min_mm=500, width_max_mm=500, stage=stage, quantity=quantity
            )
            for k, stage in enumerate(stages)
        ),
        max_carry_stages=carry,
        objective=Objective.FEWEST_BOARDS,
    )


def test_it_is_asked_of_so_many_pieces_and_places_and_not_of_one_more() -> None:
    most = prepare(halves(1, quantity=MOST_PIECES))
    assert applies(most, [0])
    assert not applies(prepare(halves(1, quantity=MOST_PIECES + 1)), [0])
    twenty = prepare(halves(1, quantity=20))
    assert applies(twenty, [0] * (MOST_PLACES // 20))
    assert not applies(twenty, [0] * (MOST_PLACES // 20 + 1))


@pytest.mark.parametrize(("boards", "least"), [(2, 3), (3, 1), (4, 0)])
def test_the_least_waiting_counted_by_hand(boards: int, least: int) -> None:
    """Halves for stages 1, 2, 4 and 6: on two boards 1 + 2, on three only the second waits."""
    demand = prepare(halves(1, 2, 4, 6))
    found = least_waiting(demand, [0] * 4, boards, 100, 4.0)
    assert found.boards is not None
    assert (waits(demand, found.boards), found.bound, len(found.boards)) == (least, least, boards)
    assert least_waiting(demand, [0] * 4, boards, least, 4.0) == LeastWaiting(None, least)


def test_nothing_is_carried_further_than_is_allowed() -> None:
    """By one stage at most 1 and 2 share, not 4 and 6: so three boards, and not two."""
    demand = prepare(halves(1, 2, 4, 6, carry=1))
    assert least_waiting(demand, [0] * 4, 2, 100, 4.0) == LeastWaiting(None, 100)
    found = least_waiting(demand, [0] * 4, 3, 100, 4.0)
    assert (found.bound, found.boards is not None) == (1, True)
