"""What a piece takes of the strip that it is cut from: the price by which a layout chooses among those of as few
joints and tapers, before any cutting is known.

A strip is as long as its board. Beside a piece longer than two thirds of it hardly ever lies another one, so
such a piece takes the whole strip, whatever its own length: what a run must lose is better lost in one short piece than
in many long ones. Of what is left beside a shorter piece half is counted as lost, and beside pieces that lie two and
more in a strip next to nothing. The parts are our own, found by trying: over ten invented buildings the linear program
of the cutting asks for 0.25 to 0.65 of a board a job less than with as many full lengths as can be (on one of them for
0.02 more), and no prices of its duals did better (`python -m benchmarks.tapers` measures the whole).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from optimiser.joints.arrays import Integers, PieceValue

ALONE = (2, 3)  # part of a strip beyond which a piece lies in it alone
LOST_BESIDE_SHORT = (1, 16)  # of a short piece's length
MOST_ENTRIES = 10_000_000  # of a table: 80 MB; boards of 8 m by 1.25 m


@lru_cache(maxsize=4)
def strip_price(board_lengths: frozenset[int], widest: int) -> PieceValue | None:
    """The price of pieces that boards of these lengths (mm) serve, for widths up to `widest`: in sixteenths of a mm2;
    None for boards so large that its table would be too.

    >>> strip_price(frozenset([1200]), 1000).cost[[300, 600, 601, 800, 801, 1200], 100].tolist()
    [510000, 1020000, 1440800, 1600000, 1920000, 1920000]
    """
    longest = max(board_lengths)
    if (longest + 1) * (widest + 1) > MOST_ENTRIES:
        return None
    taken = np.full(longest + 1, np.iinfo(np.int64).max, dtype=np.int64)
    for length in board_lengths:
        taken[: length + 1] = np.minimum(taken[: length + 1], _taken_of_a_strip(length))
    return PieceValue(taken[:, None] * np.arange(widest + 1, dtype=np.int64))


def _taken_of_a_strip(length: int) -> Integers:
    """For every length of piece up to the strip's: sixteenths of a millimetre of strip that are gone with it."""
    piece = np.arange(length + 1, dtype=np.int64)
    part, whole = ALONE
    more, of = LOST_BESIDE_SHORT
    return np.where(
        whole * piece > part * length,
        of * length,
        np.where(2 * piece > length, of * piece + of * (length - piece) // 2, (of + more) * piece),
    )
