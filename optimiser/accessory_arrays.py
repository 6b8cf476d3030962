"""Brackets, joints and tape of a laid-out building in one call of the compiled kernel, on plain integer arrays.

The lean way in, beside `optimiser.joint_arrays`: the same counts as `optimiser.accessories`, piece by piece, without
names, positions or reasons. The rules are described there and in `bracket_positions`; the tested detail decides.
"""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import Any

import numpy as np

from optimiser.joint_arrays import Integers, LaidArrays, RunArrays
from optimiser.kernels.loading import load_kernel
from optimiser.project import Detail
from optimiser.reading.problems import CannotBeDone

FINEST_INSERTION = 10**6  # an insertion's denominator: the kernel compares exactly in 128 bits up to here
NO_SIZE, NO_STAND = -1, -2


@dataclass(frozen=True)
class AccessoryCounts:
    """What a building needs. `size` and `brackets` are per piece: the index of its bracket size (NO_SIZE: none
    fits the gap, NO_STAND: none can stand clear of the mullions) and how many; `tape_mm` over all joints."""

    size: Integers
    brackets: Integers
    joints: int
    tape_mm: int

    def by_size(self, sizes: int) -> Integers:
        """Brackets of each of the sizes, in their order."""
        fits = self.size >= 0
        weights = self.brackets[fits]
        return np.bincount(self.size[fits], weights=weights, minlength=sizes).astype(np.int64)

    @property
    def pieces_without(self) -> int:
        """Pieces for which there is no bracket."""
        return int((self.size < 0).sum())


def accessory_counts(
    runs: RunArrays, pieces: LaidArrays, detail: Detail, reaches_mm: Sequence[int]
) -> AccessoryCounts:
    """Counts brackets, joints and tape of laid pieces (`LaidArrays.pieces_only`).

    `reaches_mm` are the reaches of the bracket sizes on offer, in the catalogue's order. Raises CannotBeDone for
    insertion rates with more than six decimals, MemoryError when the kernel finds no memory.
    """
    rates = [
        Fraction(rate)
        for rate in (detail.bracket_insertion_min, detail.bracket_insertion_max, detail.bracket_insertion)
    ]
    unit = lcm(*(rate.denominator for rate in rates))
    if unit > FINEST_INSERTION:
        raise CannotBeDone(["the bracket insertions of the detail have more than six decimals; round them"])
    rules = _whole(
        [
            detail.bracket_to_mullion_min_mm,
            detail.bracket_end_distance_mm,
            detail.bracket_spacing_max_mm,
            unit,
            *(int(rate * unit) for rate in rates),
            detail.tape_lap_mm,
            detail.tape_faces,
        ]
    )
    rows = np.ascontiguousarray(pieces.rows)
    reach = _whole(list(reaches_mm))
    size, brackets = np.empty(len(rows), np.int64), np.empty(len(rows), np.int64)
    totals = np.zeros(2, np.int64)
    arrays = [runs.knot_start, runs.knot_at, runs.knot_gap, runs.mullion_start, runs.mullion_at]
    held = [np.ascontiguousarray(array, dtype=np.int64) for array in arrays]
    done = _kernel()(
        len(rows),
        _pointer(rows),
        *(_pointer(array) for array in held),
        _pointer(rules),
        len(reach),
        _pointer(reach),
        _pointer(size),
        _pointer(brackets),
        _pointer(totals),
    )
    if done < 0:
        raise MemoryError("no memory for the brackets")
    return AccessoryCounts(size, brackets, int(totals[0]), int(totals[1]))


def _whole(values: list[int]) -> Integers:
    return np.array(values, dtype=np.int64)


def _pointer(array: Integers) -> Any:
    return array.ctypes.data_as(ctypes.c_void_p)


def _kernel() -> Any:
    function = load_kernel("draws").count_accessories
    if function.argtypes is None:
        whole, pointer = ctypes.c_int64, ctypes.c_void_p
        function.restype = whole
        function.argtypes = [whole, *[pointer] * 7, whole, *[pointer] * 4]
    return function
