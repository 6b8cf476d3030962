"""The linear program behind the bound over joints, on a board of 12 x 10 mm: worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from optimiser.boards.joint_master import JointMaster
from optimiser.boards.joint_prices import LengthFunctions, Sheet, SheetGroup

FUNCTIONS = LengthFunctions.of(12, 0, ())
BOARD = Sheet("B", 10, FUNCTIONS.held_by(12), 8, None)
OFFCUT = Sheet("F", 5, FUNCTIONS.held_by(12), 0, 1)
GROUP = SheetGroup(("B",), FUNCTIONS, np.array([3, 4, 5]), (BOARD, OFFCUT), False)
AS_LONG_AS_THE_BOARD, HALF_AS_LONG = 12, 6
WIDE, NARROW = 2, 0  # indices of 5 and of 3 mm


def program(*pieces: tuple[int, int], offcuts: bool = False, stretches: int = 1) -> JointMaster:
    """Boards, and offcuts, ripped into strips of one width; of every stretch one layout of these pieces, as index of
    width and length. A board costs 8 of 16."""
    master = JointMaster([GROUP], stretches, 16)
    alike = GROUP.strips(np.zeros((len(FUNCTIONS.worth), 3), np.int64)).alike
    assert master.add_patterns(0, 0, alike(BOARD)) == 3
    assert master.add_patterns(0, 0, alike(BOARD)) == 0  # they are there
    if offcuts:
        assert master.add_patterns(0, 1, alike(OFFCUT)) == 3
    master.add_layouts(
        (stretch, [(0, width, length) for width, length in pieces]) for stretch in range(stretches)
    )
    return master


@pytest.mark.parametrize(
    ("pieces", "boards"),
    [
        ([(WIDE, AS_LONG_AS_THE_BOARD)] * 2, 1),
        ([(WIDE, AS_LONG_AS_THE_BOARD)] * 3, 1.5),
        ([(WIDE, HALF_AS_LONG)] * 3, 0.75),
        ([(NARROW, AS_LONG_AS_THE_BOARD)] * 3, 1),  # three strips of 3 mm lie across a board
        ([(WIDE, AS_LONG_AS_THE_BOARD), *[(NARROW, AS_LONG_AS_THE_BOARD)] * 3], 1.5),
    ],
)
def test_boards_are_ripped_so_far_as_the_pieces_of_a_layout_need(
    pieces: list[tuple[int, int]], boards: float
) -> None:
    assert program(*pieces).solve() == pytest.approx(boards * 8 / 16)
    assert program(*pieces, stretches=2).solve() == pytest.approx(2 * boards * 8 / 16)


def test_an_offcut_costs_nothing_and_is_there_once() -> None:
    three = [(WIDE, AS_LONG_AS_THE_BOARD)] * 3
    assert program(*three, offcuts=True).solve() == pytest.approx(1 * 8 / 16)


def test_of_two_layouts_the_cheaper_is_taken() -> None:
    master = program(*[(WIDE, AS_LONG_AS_THE_BOARD)] * 3)
    master.add_layouts([(0, [(0, NARROW, AS_LONG_AS_THE_BOARD)] * 3)])
    assert master.solve() == pytest.approx(1 * 8 / 16)


def test_its_duals_price_a_board_s_strips_at_no_more_than_the_board() -> None:
    master = program(*[(WIDE, AS_LONG_AS_THE_BOARD)] * 3)
    assert master.solve() > 0
    (steps,) = master.duals()
    assert steps.shape == (len(FUNCTIONS.worth), 3)
    assert (steps >= 0).all()
    held = BOARD.held / FUNCTIONS.unit
    worth = held @ steps
    assert max(2 * worth[WIDE], 3 * worth[NARROW]) == pytest.approx(8 / 16)


def test_without_a_layout_there_is_no_solution() -> None:
    assert JointMaster([GROUP], 1, 16).solve() == float("inf")
