"""The order in which a board is ripped and its strips are cut."""

from __future__ import annotations

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.ripping import put_in_order
from tests.builders.open_boards import open_boards


def board_of(*strips: list[tuple[int, int, int]]) -> tuple[Demand, OpenBoard]:
    """A board of strips, each of pieces as (stage, length, width); pieces are numbered as they come."""
    demand, (board,) = open_boards(list(strips))
    return demand, board


def names_of(board: OpenBoard) -> list[list[int]]:
    return [[name for names in strip.names for name in names] for strip in board.strips]


def test_along_a_strip_the_pieces_stand_by_stage_and_of_a_stage_the_longest_first() -> None:
    demand, board = board_of([(1, 300, 100), (2, 400, 100), (1, 350, 100)])
    put_in_order(demand, [board])
    assert names_of(board) == [[2, 0, 1]]
    strip = board.strips[0]
    kinds = [demand.types[kind].members for (kind,) in strip.held]
    assert all(name in members for (name,), members in zip(strip.names, kinds, strict=True))


def test_strips_stand_by_their_first_stage_then_by_their_last_then_the_widest_first() -> None:
    demand, board = board_of(
        [(2, 1200, 90)],
        [(1, 500, 80), (3, 500, 80)],
        [(1, 1200, 60)],
        [(1, 1200, 70)],
    )
    put_in_order(demand, [board])
    assert names_of(board) == [[4], [3], [1, 2], [0]]
