"""The knapsacks of column pricing: strips, boards and offcuts."""

from __future__ import annotations

import numpy as np

from optimiser.kernels import loading
from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.patterns import Ints, Patterns, Values
from optimiser.kernels.reference import knapsacks

_ROOM_LIMIT = 100_000_000


PRICE_STRIPS = Kernel(
    "cutting",
    "price_strips",
    "int",
    (
        Number("n", "int", 0),
        Array("lengths", "int32_t", "n"),
        Array("width_min", "int32_t", "n"),
        Array("width_max", "int32_t", "n"),
        Array("bounds", "int32_t", "n"),
        Array("values", "int64_t", "n"),
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Number("capacity", "int", 0),
        Array("slot_values", "int64_t", "widths", optional=True),
        Array("best_value", "int64_t", "widths", written=True),
        Array("own_width", "int32_t", "n", written=True),
        Array("pattern_start", "int32_t", "widths + n", written=True),
        Array("pattern_end", "int32_t", "widths + n", written=True),
        Array("pattern_item", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)


PRICE_BOARDS = Kernel(
    "cutting",
    "price_boards",
    "int",
    (
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("bounds", "int32_t", "widths"),
        Array("values", "int64_t", "widths"),
        Number("capacity", "int", 0),
        Array("best_value", "int64_t", "widths + 1", written=True),
        Array("pattern_start", "int32_t", "widths + 2", written=True),
        Array("pattern_width", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)


PRICE_OFFCUTS = Kernel(
    "cutting",
    "price_offcuts",
    "int",
    (
        Number("n", "int", 0),
        Array("lengths", "int32_t", "n"),
        Array("width_min", "int32_t", "n"),
        Array("width_max", "int32_t", "n"),
        Array("bounds", "int32_t", "n"),
        Array("values", "int64_t", "n"),
        Number("widths", "int", 0),
        Array("width", "int32_t", "widths"),
        Array("width_bounds", "int32_t", "widths"),
        Number("kerf", "int", 0),
        Number("offcuts", "int", 0),
        Array("offcut_length", "int32_t", "offcuts"),
        Array("offcut_width", "int32_t", "offcuts"),
        Array("best_value", "int64_t", "offcuts", written=True),
        Array("pattern_offcut", "int32_t", "room", written=True),
        Array("pattern_width", "int32_t", "room", written=True),
        Array("pattern_strips", "int32_t", "room", written=True),
        Array("pattern_item", "int32_t", "room", written=True),
        Array("pattern_copies", "int32_t", "room", written=True),
        Number("room", "int", 0),
    ),
)


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
    """`reference.knapsacks.price_strips`: patterns of the widths and then of the components, and each component's
    own width. Raises MemoryError when the knapsack does not fit in memory."""
    shortest = max(1, int(lengths.min(initial=1)))
    items_a_strip = min(64, max(1, capacity // shortest) + 1)
    room = max(64, (len(widths) + (4 * len(lengths) if slot_values is not None else 0)) * items_a_strip)
    while True:
        best = np.zeros(len(widths), np.int64)
        own_width = np.zeros(len(lengths), np.int32)
        start = np.zeros(len(widths) + len(lengths), np.int32)
        end = np.zeros(len(widths) + len(lengths), np.int32)
        items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
        given = {
            "n": len(lengths),
            "lengths": lengths,
            "width_min": width_min,
            "width_max": width_max,
            "bounds": bounds,
            "values": values,
            "widths": len(widths),
            "width": widths,
            "capacity": capacity,
            "slot_values": slot_values,
            "best_value": best,
            "own_width": own_width,
            "pattern_start": start,
            "pattern_end": end,
            "pattern_item": items,
            "pattern_copies": copies,
            "room": room,
        }
        library = loading.compiled_library("cutting")
        if library is None:
            PRICE_STRIPS.checked(given)
            found = knapsacks.price_strips(
                lengths.tolist(),
                width_min.tolist(),
                width_max.tolist(),
                bounds.tolist(),
                values.tolist(),
                widths.tolist(),
                capacity,
                None if slot_values is None else slot_values.tolist(),
            )
            return Patterns.of(found.best, found.patterns), np.array(found.own_width, dtype=np.int32)
        if PRICE_STRIPS.call(library, given) >= 0:
            return Patterns(best, start, end, items, copies), own_width
        if room > _ROOM_LIMIT:
            raise MemoryError("the strip knapsack does not fit in memory")
        room *= 8


def price_boards(widths: Ints, bounds: Ints, values: Values, capacity: int) -> Patterns:
    """`reference.knapsacks.price_boards`. Raises MemoryError when the knapsack does not fit in memory."""
    count = len(widths)
    narrowest = max(1, int(widths.min(initial=1)))
    room = (count + 1) * min(count, max(1, capacity // narrowest) + 1) + 16
    best = np.zeros(count + 1, np.int64)
    start = np.zeros(count + 2, np.int32)
    items, copies = np.zeros(room, np.int32), np.zeros(room, np.int32)
    given = {
        "widths": count,
        "width": widths,
        "bounds": bounds,
        "values": values,
        "capacity": capacity,
        "best_value": best,
        "pattern_start": start,
        "pattern_width": items,
        "pattern_copies": copies,
        "room": room,
    }
    library = loading.compiled_library("cutting")
    if library is None:
        PRICE_BOARDS.checked(given)
        return Patterns.of(
            *knapsacks.price_boards(widths.tolist(), bounds.tolist(), values.tolist(), capacity)
        )
    if PRICE_BOARDS.call(library, given) < 0:
        raise MemoryError("the board knapsack does not fit in memory")
    return Patterns(best, start[:-1], start[1:], items, copies)


def price_offcuts(
    lengths: Ints,
    width_min: Ints,
    width_max: Ints,
    bounds: Ints,
    values: Values,
    widths: Ints,
    width_bounds: Ints,
    kerf: int,
    offcut_length: Ints,
    offcut_width: Ints,
) -> tuple[Values, Ints]:
    """`reference.knapsacks.price_offcuts`: the value of each offcut's best pattern, and the rows (offcut, width,
    strips, item, copies) of all. Raises MemoryError when the knapsacks do not fit in memory."""
    count = len(offcut_length)
    room = 64 * (count + 1)
    while True:
        best = np.zeros(count, np.int64)
        rows = [np.zeros(room, np.int32) for _ in range(5)]
        given = {
            "n": len(lengths),
            "lengths": lengths,
            "width_min": width_min,
            "width_max": width_max,
            "bounds": bounds,
            "values": values,
            "widths": len(widths),
            "width": widths,
            "width_bounds": width_bounds,
            "kerf": kerf,
            "offcuts": count,
            "offcut_length": offcut_length,
            "offcut_width": offcut_width,
            "best_value": best,
            "pattern_offcut": rows[0],
            "pattern_width": rows[1],
            "pattern_strips": rows[2],
            "pattern_item": rows[3],
            "pattern_copies": rows[4],
            "room": room,
        }
        library = loading.compiled_library("cutting")
        if library is None:
            PRICE_OFFCUTS.checked(given)
            found = knapsacks.price_offcuts(
                lengths.tolist(),
                width_min.tolist(),
                width_max.tolist(),
                bounds.tolist(),
                values.tolist(),
                widths.tolist(),
                width_bounds.tolist(),
                kerf,
                offcut_length.tolist(),
                offcut_width.tolist(),
            )
            return np.array(found.best, dtype=np.int64), np.array(found.rows, dtype=np.int32).reshape(-1, 5)
        written = PRICE_OFFCUTS.call(library, given)
        if written >= 0:
            return best, np.stack([row[:written] for row in rows], axis=1)
        if room > _ROOM_LIMIT:
            raise MemoryError("the knapsacks of the offcuts do not fit in memory")
        room *= 8
