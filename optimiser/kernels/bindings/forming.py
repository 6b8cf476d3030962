"""Strips formed and boards filled by rule: the quick first cutting."""

from __future__ import annotations

import numpy as np

from optimiser.kernels import loading
from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.patterns import Ints, Pairs
from optimiser.kernels.reference import boards

FORM_STRIPS = Kernel(
    "cutting",
    "form_strips",
    "int",
    (
        Number("pieces", "int", 0),
        Array("length", "int32_t", "pieces"),
        Array("width_min", "int32_t", "pieces"),
        Array("width_max", "int32_t", "pieces"),
        Number("capacity", "int", 0),
        Number("shortest", "int", 0),
        Number("tolerance", "int", 0),
        Array("strip_of", "int32_t", "pieces", written=True),
        Array("strip_width", "int32_t", "pieces", written=True),
    ),
)


FILL_BOARDS = Kernel(
    "cutting",
    "fill_boards",
    "int",
    (
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("demand", "int32_t", "widths", written=True),
        Number("capacity", "int", 0),
        Number("most_patterns", "int", 0),
        Array("pattern_copies", "int32_t", "most_patterns * widths", written=True),
        Array("pattern_repeat", "int32_t", "most_patterns", written=True),
    ),
)


def form_strips(
    lengths: Ints, width_min: Ints, width_max: Ints, capacity: int, shortest: int, tolerance: int
) -> tuple[Ints, Ints]:
    """`reference.boards.form_strips`: (strip of each piece, width of each strip). Raises MemoryError."""
    strip_of = np.zeros(len(lengths), np.int32)
    strip_width = np.zeros(len(lengths), np.int32)
    given = {
        "pieces": len(lengths),
        "length": lengths,
        "width_min": width_min,
        "width_max": width_max,
        "capacity": capacity,
        "shortest": shortest,
        "tolerance": tolerance,
        "strip_of": strip_of,
        "strip_width": strip_width,
    }
    library = loading.compiled_library("cutting")
    if library is None:
        FORM_STRIPS.checked(given)
        columns = lengths.tolist(), width_min.tolist(), width_max.tolist()
        strips, widths = boards.form_strips(*columns, capacity, shortest, tolerance)
        return np.array(strips, dtype=np.int32), np.array(widths, dtype=np.int32)
    count = FORM_STRIPS.call(library, given)
    if count < 0:
        raise MemoryError("strips do not fit in memory")
    return strip_of, strip_width[:count]


def fill_boards(widths: Ints, demand: Ints, capacity: int) -> list[tuple[Pairs, int]]:
    """`reference.boards.fill_boards`: (pattern, repeat) of each kind of board; leaves `demand` as it is.

    Raises ValueError for a width below 1, MemoryError when there is no memory.
    """
    if (widths < 1).any():
        raise ValueError("fill_boards: a width is below 1")
    most = int(demand.sum()) + 1
    room = min(most, 4 * len(widths) + 64)
    while True:
        copies = np.zeros((room, max(1, len(widths))), np.int32)
        repeat = np.zeros(room, np.int32)
        given = {
            "widths": len(widths),
            "width": widths,
            "demand": demand.copy(),
            "capacity": capacity,
            "most_patterns": room,
            "pattern_copies": copies,
            "pattern_repeat": repeat,
        }
        library = loading.compiled_library("cutting")
        if library is None:
            FILL_BOARDS.checked(given)
            return boards.fill_boards(widths.tolist(), demand.tolist(), capacity)
        made = FILL_BOARDS.call(library, given)
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
