"""The joint layout of many runs in one call of the compiled kernel, on plain integer arrays.

This is the lean way in: the tolerance simulation lays out a whole building thousands of times and never needs
names or reasons. `optimiser.joints` wraps it for a project. The method is described in `kernels/joints.c`.
"""

from __future__ import annotations

import ctypes
from dataclasses import dataclass, replace
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimiser.kernels.loading import load_kernel
from optimiser.project import Detail
from optimiser.windows import WidthRates

Integers = NDArray[np.int64]

# Kinds of a row.
PIECE, TAPERED, OUT_OF_RANGE, NO_LAYOUT = range(4)
ROW_WIDTH = 10
NO_MEMORY = -1
# A last-resort piece is at least this part of piece_length_min_mm: a sliver of mineral wool can be neither
# cut nor compressed, so such a place is reported instead (common practice, no source).
SHORTEST_PART = 10


@dataclass(frozen=True)
class RunArrays:
    """Runs as arrays of int64 millimetres. A `*_start` array of runs + 1 entries says where each run's part of
    the arrays beside it begins. Knots are the measured positions, ascending, at least one a run; mullions are
    ascending. A run's boards are the sizes that may serve it, at least one.
    """

    length: Integers
    knot_start: Integers
    knot_at: Integers
    knot_gap: Integers
    mullion_start: Integers
    mullion_at: Integers
    board_start: Integers
    board_length: Integers
    board_width: Integers

    def with_gaps(self, knot_gap: Integers) -> RunArrays:
        """The same runs with other gaps at the same knots (a draw of the simulation)."""
        return replace(self, knot_gap=knot_gap)


@dataclass(frozen=True)
class LaidArrays:
    """Rows in order of run and position; they tile every run. One int64 column each:

    `run` (index), `kind` (PIECE, TAPERED, OUT_OF_RANGE: gap beyond the tested range, NO_LAYOUT: no piece can be
    placed), `from_mm`, `to_mm`, `gap_min` (rounded down), `gap_max` (rounded up), the window `width_min` and
    `width_max` (a tapered piece: its wider end, twice), `width_start`, `width_end` (the least cut widths; equal
    unless tapered). For rows that are no pieces only run, kind, from_mm and to_mm mean anything.
    """

    rows: Integers

    run = property(lambda self: self.rows[:, 0])
    kind = property(lambda self: self.rows[:, 1])
    from_mm = property(lambda self: self.rows[:, 2])
    to_mm = property(lambda self: self.rows[:, 3])
    gap_min = property(lambda self: self.rows[:, 4])
    gap_max = property(lambda self: self.rows[:, 5])
    width_min = property(lambda self: self.rows[:, 6])
    width_max = property(lambda self: self.rows[:, 7])
    width_start = property(lambda self: self.rows[:, 8])
    width_end = property(lambda self: self.rows[:, 9])

    def pieces_only(self) -> LaidArrays:
        """Without the rows that are no pieces."""
        return LaidArrays(self.rows[self.rows[:, 1] <= TAPERED])


@dataclass(frozen=True)
class PieceValue:
    """An extra cost of a piece by its length and least width: `cost[length_mm, width_min_mm]`, int64, any unit.

    Meant for the dual prices of the cutting master, plus whatever a joint and its brackets cost. Lengths and
    widths beyond the table take its last row or column. With `fewest_pieces_first` the cost only chooses among
    layouts of the fewest pieces; without, more pieces are taken where they cost less in sum.
    """

    cost: Integers
    fewest_pieces_first: bool = True


def starts(counts: list[int]) -> Integers:
    """The `*_start` array for parts of these sizes: [2, 3] -> [0, 2, 5]."""
    return np.fromiter(accumulate(counts, initial=0), dtype=np.int64, count=len(counts) + 1)


def lay_out_arrays(
    runs: RunArrays,
    detail: Detail,
    piece_value: PieceValue | None = None,
    taper_step_mm: int = 1,
    every_millimetre: bool = False,
) -> LaidArrays:
    """Divides every run into pieces; see `optimiser.joints.lay_out` for the rules and the order of aims.

    `taper_step_mm`: tapered pieces start and end at multiples of it (or at a stretch's end). 1 is exact; 50 is far
    quicker on strongly wandering gaps at the price of a piece now and then, which suits simulation.
    `every_millimetre` visits each position instead of leaping over those where nothing changes: the same
    values, slowly, as a check. Raises ValueError for a rate with too many decimals or arrays that do not fit
    together, MemoryError when the kernel finds no memory, RuntimeError for a fault of the kernel.
    """
    rates = WidthRates.of(detail)
    rules = np.array(
        [
            rates.unit,
            rates.least,
            rates.greatest,
            detail.gap_min_mm,
            detail.gap_max_mm,
            detail.piece_length_min_mm,
            -(-detail.piece_length_min_mm // SHORTEST_PART),
            detail.joint_to_mullion_min_mm,
            taper_step_mm,
            every_millimetre,
        ],
        dtype=np.int64,
    )
    arrays = [np.ascontiguousarray(array, dtype=np.int64) for array in vars(runs).values()]
    for start, parts, least in ((1, (2, 3), 1), (4, (5,), 0), (6, (7, 8), 1)):
        sizes = np.diff(arrays[start])
        fits = all(arrays[start][-1] == len(arrays[part]) for part in parts)
        if len(sizes) != len(arrays[0]) or not fits or (sizes < least).any():
            raise ValueError("the arrays of the runs do not fit together")
    value, value_shape, pieces_first = None, (0, 0), 0
    if piece_value is not None:
        value = np.ascontiguousarray(piece_value.cost, dtype=np.int64)
        value_shape, pieces_first = value.shape, int(piece_value.fewest_pieces_first)
    capacity = int(2 * (runs.length // 300).sum() + 4 * len(runs.knot_at) + 16)
    while True:
        rows = np.empty((capacity, ROW_WIDTH), dtype=np.int64)
        found = _kernel()(
            len(arrays[0]),
            *(_pointer(array) for array in arrays),
            _pointer(rules),
            None if value is None else _pointer(value),
            *value_shape,
            pieces_first,
            capacity,
            _pointer(rows),
        )
        if found == NO_MEMORY:
            raise MemoryError("no memory for the joint layout")
        if found < 0:
            raise RuntimeError("the joint layout found no way to the end of a run: a fault of this tool")
        if found <= capacity:
            return LaidArrays(rows[:found])
        capacity = found


def _pointer(array: Integers) -> Any:
    return array.ctypes.data_as(ctypes.c_void_p)


def _kernel() -> Any:
    function = load_kernel("joints").lay_out_runs
    if function.argtypes is None:
        whole = ctypes.c_int64
        function.restype = whole
        function.argtypes = [whole, *[ctypes.c_void_p] * 11, whole, whole, whole, whole, ctypes.c_void_p]
    return function
