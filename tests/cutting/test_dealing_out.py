"""Strips dealt out in the order of delivery: all of them, boards full, and few waiting for the next stage."""

from __future__ import annotations

from random import Random

import pytest

from optimiser.cutting.dealing_out import deal_out
from optimiser.cutting.demand import Demand, prepare
from optimiser.cutting.open_boards import OpenBoard, OpenStrip
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Piece
from optimiser.cutting.waiting import pieces_wait, waits


def strips_of(*stages: list[int], carry: int | None = None) -> tuple[Demand, list[OpenStrip]]:
    """A full-length strip for every width, of stages 1, 2, ..., for boards of 1200 x 1000 mm."""
    problem = CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=1000),),
        pieces=tuple(
            Piece(
                id=f"{stage}-{k}",
                length_mm=1200,
                width_min_mm=width,
                width_max_mm=width,
                quantity=1,
                stage=stage,
            )
            for stage, widths in enumerate(stages, start=1)
            for k, width in enumerate(widths)
        ),
        objective=Objective.FEWEST_BOARDS,
        max_carry_stages=carry,
    )
    widths = [piece.width_min_mm for piece in problem.pieces]
    return prepare(problem), [OpenStrip(width, [(k,)], [[k]]) for k, width in enumerate(widths)]


def dealt(demand: Demand, strips: list[OpenStrip], count: int, seed: int = 0) -> list[OpenBoard]:
    """The boards after all strips were dealt out, each once."""
    boards = [OpenBoard(0, []) for _ in range(count)]
    assert deal_out(demand, strips, boards, seed)
    assert sorted(id(strip) for board in boards for strip in board.strips) == sorted(map(id, strips))
    return boards


def test_a_stage_that_fills_its_boards_waits_for_nothing() -> None:
    demand, strips = strips_of([400, 600, 300, 700], [250, 250, 500, 800, 200])
    boards = dealt(demand, strips, 4)
    assert waits(demand, boards) == 0
    assert [board.free_width(demand) for board in boards] == [0, 0, 0, 0]


def test_the_last_board_of_a_stage_is_filled_with_as_few_of_the_next_as_can_be() -> None:
    """600 are left of stage 1: 400 of stage 2 wait, not 100 and 300, and all boards are full."""
    demand, strips = strips_of([600], [100, 300, 400, 600])
    boards = dealt(demand, strips, 2)
    assert (waits(demand, boards), pieces_wait(demand, boards)) == (1, 1)
    assert [board.free_width(demand) for board in boards] == [0, 0]


@pytest.mark.parametrize("seed", range(5))
def test_with_hardly_a_mm_free_hardly_a_board_is_overfull(seed: int) -> None:
    """Boards cut into strips at random, so that they can all be full; then the strips get stages in any order."""
    random = Random(seed)
    widths: list[int] = []
    for _ in range(60):
        cuts = sorted(random.sample(range(1, 10), 5))
        board = [100 * (b - a) for a, b in zip([0, *cuts], [*cuts, 10], strict=True)]
        shifts = [random.randrange(-20, 21) for _ in board[1:]]
        widths += [
            board[0] - sum(shifts),
            *(width + shift for width, shift in zip(board[1:], shifts, strict=True)),
        ]
    widths = [width for width in widths if width > 0]
    random.shuffle(widths)
    stages = [widths[k::6] for k in range(6)]
    demand, strips = strips_of(*stages)
    count = -(-sum(widths) // 1000)
    boards = dealt(demand, strips, count, seed)
    assert sum(board.free_width(demand) < 0 for board in boards) <= 3
    # what of the next stage fills the last board of each: a few strips
    assert waits(demand, boards) <= 12 * 5


def test_equal_seeds_deal_alike() -> None:
    demand, strips = strips_of(*([90 + 7 * k % 101 for k in range(40)] for _ in range(3)))
    ways = [
        [[strip.names for strip in board.strips] for board in dealt(demand, strips, 17, seed)]
        for seed in (1, 1, 2)
    ]
    assert ways[0] == ways[1]
    assert ways[0] != ways[2]


def test_what_would_be_carried_too_far_is_said() -> None:
    """A single board for stages 1 and 3, where a piece may be carried one stage."""
    demand, strips = strips_of([400], [], [600], carry=1)
    assert not deal_out(demand, strips, [OpenBoard(0, [])], 0)
