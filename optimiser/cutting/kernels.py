"""Typed calls into the compiled inner loops of `optimiser/kernels/cutting.c`."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimiser.kernels.loading import load_kernel

Ints = NDArray[np.int32]
Values = NDArray[np.int64]


def _pointer(array: Ints | Values) -> ctypes.c_void_p:
    return ctypes.c_void_p(array.ctypes.data)


@dataclass(frozen=True)
class Patterns:
    """Patterns of (item, copies) pairs: pattern k is `items[start[k]:end[k]]` with its `copies`."""

    best: Values
    start: Ints
    end: Ints
    items: Ints
    copies: Ints

    def pairs(self, k: int) -> tuple[tuple[int, int], ...]:
        """Pattern k as a tuple of (item, copies)."""
        a, b = int(self.start[k]), int(self.end[k])
        return tuple(zip(self.items[a:b].tolist(), self.copies[a:b].tolist(), strict=True))


def price_strips(
    lengths: Ints,
    width_min: Ints,
    width_max: Ints,
    bounds: Ints,
    values: Values,
    widths: Ints,
    capacity: int,
    slot_values: Values | None,
) -> tuple[Patterns, Ints]:
    """For every strip width, the most valuable pieces whose windows hold it and that fit the length `capacity`.

    Lengths and capacity carry the kerf already. A bounded knapsack a width (Gilmore and Gomory 1965, inner
    problem). With `slot_values` also, for every component i, the strip that holds it and gains most over its
    slot's value: pattern len(widths) + i, at the width index own_width[i] (-1: none gains), the second result.
    Raises MemoryError.
    """
    items_a_strip = min(64, max(1, capacity // max(1, int(lengths.min(initial=1)))) + 1)
    room = max(64, (len(widths) + (4 * len(lengths) if slot_values is not None else 0)) * items_a_strip)
    while True:
        best = np.zeros(len(widths), np.int64)
        own_width = np.zeros(len(lengths), np.int32)
        start = np.zeros(len(widths) + len(lengths), np.int32)
        end = np.zeros(len(widths) + len(lengths), np.int32)
        items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
        written = load_kernel("cutting").price_strips(
            len(lengths), _pointer(lengths), _pointer(width_min), _pointer(width_max), _pointer(bounds),
            _pointer(values), len(widths), _pointer(widths), capacity,
            _pointer(slot_values) if slot_values is not None else None, _pointer(best), _pointer(own_width),
            _pointer(start), _pointer(end), _pointer(items), _pointer(copies), room,
        )  # fmt: skip
        if written >= 0:
            return Patterns(best, start, end, items, copies), own_width
        if room > 100_000_000:
            raise MemoryError("the strip knapsack does not fit in memory")
        room *= 8


def price_boards(widths: Ints, bounds: Ints, values: Values, capacity: int) -> Patterns:
    """The most valuable strips across a board (pattern 0), and for each width the best that hold it (1 + width).

    Widths and capacity carry the kerf already (Gilmore and Gomory 1965, outer problem). Raises MemoryError.
    """
    count = len(widths)
    room = (count + 1) * min(count, max(1, capacity // max(1, int(widths.min(initial=1)))) + 1) + 16
    best = np.zeros(count + 1, np.int64)
    start = np.zeros(count + 2, np.int32)
    items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
    written = load_kernel("cutting").price_boards(
        count, _pointer(widths), _pointer(bounds), _pointer(values), capacity, _pointer(best), _pointer(start),
        _pointer(items), _pointer(copies), room,
    )  # fmt: skip
    if written < 0:
        raise MemoryError("the board knapsack does not fit in memory")
    return Patterns(best, start[:-1], start[1:], items, copies)


def form_strips(
    lengths: Ints, width_min: Ints, width_max: Ints, capacity: int, shortest: int, tolerance: int
) -> tuple[Ints, Ints]:
    """Best-fit strips from pieces in the order given: (strip of each piece, width of each strip).

    `tolerance`: the waste, in thousandths of a piece's area, above which a new strip is opened instead.
    """
    strip_of = np.zeros(len(lengths), np.int32)
    strip_width = np.zeros(len(lengths) + 1, np.int32)
    strips = load_kernel("cutting").form_strips(
        len(lengths), _pointer(lengths), _pointer(width_min), _pointer(width_max), capacity, shortest, tolerance,
        _pointer(strip_of), _pointer(strip_width),
    )  # fmt: skip
    if strips < 0:
        raise MemoryError("strips do not fit in memory")
    return strip_of, strip_width[:strips]


def fill_boards(widths: Ints, demand: Ints, capacity: int) -> list[tuple[tuple[tuple[int, int], ...], int]]:
    """Boards for `demand` strips of each width (ascending): (pattern of (width index, copies), repeat) each.

    The widest strip still needed, then the fullest board it allows, repeated while the demand lasts.
    """
    most = int(demand.sum()) + 1
    room = min(most, 4 * len(widths) + 64)
    while True:
        left = demand.copy()
        copies = np.zeros((room, max(1, len(widths))), np.int32)
        repeat = np.zeros(room, np.int32)
        made = load_kernel("cutting").fill_boards(
            len(widths), _pointer(widths), _pointer(left), capacity, room, _pointer(copies), _pointer(repeat)
        )
        if made >= 0:
            break
        if room >= most:
            raise MemoryError("board patterns do not fit in memory")
        room = min(most, room * 4)
    patterns = []
    for k in range(made):
        used = np.flatnonzero(copies[k])
        pairs = tuple(zip(used.tolist(), copies[k][used].tolist(), strict=True))
        patterns.append((pairs, int(repeat[k])))
    return patterns
