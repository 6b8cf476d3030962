"""One-dimensional problems without the round-up property: the linear bound, rounded up, is a board too low.

The core is D. Fieldhouse's ('The duality gap in trim problems', SICOP Bulletin 5, 1990): widths 44, 33 and 12 of a
board of 132, wanted 2, 3 and 6 times. Its linear bound is 2/3 + 3/4 + 6/11 = 1.96, and it takes 3 boards. Here it is
scaled, and some whole boards are cut at random into two or three widths whose sum is the board's, all thrown together.
With k boards added the linear bound is k + 1.96 (the core's patterns and the whole boards reach it, and no plan has
less area), and k + 3 boards serve. That k + 2 do not is no matter of construction: the added widths may fill what the
core wastes. So the numbers below are those of 1 to 77 for which it is proved: in a plan of k + 2 boards none may waste
more than all together do, which is 5 in 132 of a board, so few patterns remain, and no whole numbers of them (CP-SAT)
have every width as often as it is wanted. The other 37 have the round-up property. 14 to 23 pieces each.
"""

from __future__ import annotations

from random import Random

from benchmarks.instances.one_dimensional import one_dimensional
from optimiser.cutting.problem import CuttingProblem

CORE_BOARD = 132
CORE = ((44, 2), (33, 3), (12, 6))
BOARDS_OF_THE_CORE = 3
SCALES = (4, 30)
ADDED_BOARDS = (1, 4)
PARTS = (2, 3)
SMALLEST_PART = 0.15  # of the board
NUMBERS = (
    1, 3, 4, 8, 10, 11, 13, 14, 15, 20, 21, 25, 26, 27, 32, 34, 37, 41, 43, 44, 45, 46, 47, 48, 50, 51, 52, 53, 60, 61,
    62, 66, 69, 70, 72, 73, 74, 75, 76, 77,
)  # fmt: skip


def widths_without_round_up(number: int) -> tuple[int, list[int], int]:
    """Width of the board, widths of the pieces, and how many boards were added to the core."""
    random = Random(f"without round-up {number}")
    scale = random.randint(*SCALES)
    board = CORE_BOARD * scale
    added = random.randint(*ADDED_BOARDS)
    widths = [width * scale for width, count in CORE for _ in range(count)]
    for _ in range(added):
        widths += _parts(board, random.randint(*PARTS), random)
    random.shuffle(widths)
    return board, widths, added


def _parts(board: int, count: int, random: Random) -> list[int]:
    """So many widths, none very small, whose sum is the board's."""
    least = int(SMALLEST_PART * board)
    while True:
        cuts = sorted(random.randint(0, board) for _ in range(count - 1))
        parts = [after - before for before, after in zip([0, *cuts], [*cuts, board], strict=True)]
        if min(parts) >= least:
            return parts


def without_round_up(number: int) -> CuttingProblem:
    """The problem of this number, pieces as long as the board."""
    board, widths, _ = widths_without_round_up(number)
    return one_dimensional(board, ((width, 1) for width in widths))


def known_optimum(number: int) -> int:
    """The fewest boards of one of the `NUMBERS`."""
    return widths_without_round_up(number)[2] + BOARDS_OF_THE_CORE
