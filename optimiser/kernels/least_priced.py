"""The way into the kernel of `joint_bound.c`: the least price of any joint layout, stretch by stretch."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.loading import compiled_library
from optimiser.kernels.patterns import Ints, Values
from optimiser.kernels.reference import least_priced as reference
from optimiser.kernels.reference.gap_line import GapLine, Rates

ROW_WIDTH = 5  # of a piece: stretch, from, to, width that is paid for, tapered
_NO_MEMORY = -1

LEAST_PRICED_LAYOUTS = Kernel(
    "joint_bound",
    "least_priced_layouts",
    "int64_t",
    (
        Number("stretches", "int64_t", 0),
        Array("point_start", "int64_t", "stretches + 1", least_part=2),
        Array("least", "int32_t", "point_start[-1]"),
        Array("greatest", "int32_t", "point_start[-1]"),
        Array("joint", "int32_t", "point_start[-1]"),
        Array("need", "int32_t", "point_start[-1]"),
        Array("cap", "int32_t", "point_start[-1]"),
        Array("next_knot", "int32_t", "point_start[-1]"),
        Array("knot_start", "int64_t", "stretches + 1", least_part=2),
        Array("knot_at", "int64_t", "knot_start[-1]"),
        Array("knot_gap", "int64_t", "knot_start[-1]"),
        Array("board_start", "int64_t", "stretches + 1", least_part=1),
        Array("board_length", "int64_t", "board_start[-1]"),
        Array("board_width", "int64_t", "board_start[-1]"),
        Array("pieces", "int64_t", "stretches"),
        Array("table_of", "int64_t", "stretches"),
        Number("tables", "int64_t", 1, passed=False),
        Number("price_widths", "int64_t", 1),
        Number("price_lengths", "int64_t", 1),
        Array("price", "int64_t", "tables * price_widths * price_lengths"),
        Number("rate_unit", "int64_t", 1),
        Number("rate_min", "int64_t", 0),
        Number("rate_max", "int64_t", 0),
        Number("piece_min", "int64_t", 1),
        Number("shortest", "int64_t", 1),
        Number("taper_max", "int64_t", 0),
        Array("least_price", "int64_t", "stretches", written=True),
        Number("capacity", "int64_t", 0),
        Array("rows_out", "int64_t", "5 * capacity", written=True),
    ),
)


class StretchTables(NamedTuple):
    """Stretches one after another; see `reference.least_priced.Stretch`. A `*_start` array of stretches + 1 entries
    says where each one's part of the arrays beside it begins: at least two positions and one board. `joint` is 1
    where a joint may be, at both ends too; `table_of` says which price table a stretch pays by. Knots are the measured
    gaps by position from the stretch's start, the first at it or before, the last at its end or beyond."""

    point_start: Values
    least: Ints
    greatest: Ints
    joint: Ints
    need: Ints
    cap: Ints
    next_knot: Ints
    knot_start: Values
    knot_at: Values
    knot_gap: Values
    board_start: Values
    board_length: Values
    board_width: Values
    pieces: Values
    table_of: Values


class SpanRules(NamedTuple):
    """Cut width over gap from `rate_min` to `rate_max` over `rate_unit`; the least lengths of a piece, in mm, where the
    run allows and in the last resort, and the most that a tapered one's end widths differ (0: none is tapered)."""

    rate_unit: int
    rate_min: int
    rate_max: int
    piece_min: int
    shortest: int
    taper_max: int


def least_priced_layouts(stretches: StretchTables, price: Values, rules: SpanRules) -> tuple[Values, Values]:
    """`reference.least_priced.least_priced_layout` of every stretch at `price[table, width, length]`: the least
    prices, and rows of ROW_WIDTH numbers, a piece each, those of a stretch from its end.

    Raises ValueError for what cannot be, MemoryError when there is no memory, RuntimeError where a stretch has no
    layout at all.
    """
    if price.ndim != 3 or price.size == 0:
        raise ValueError("least_priced_layouts: price must be tables of widths by lengths")
    count = len(stretches.pieces)
    if ((stretches.table_of < 0) | (stretches.table_of >= len(price))).any():
        raise ValueError("least_priced_layouts: table_of names a table that is not there")
    for name in ("least", "board_length", "board_width"):
        if (getattr(stretches, name) < 1).any():
            raise ValueError(f"least_priced_layouts: a number in {name} is below 1")
    if (stretches.next_knot <= _positions(stretches.point_start)).any():
        raise ValueError("least_priced_layouts: next_knot must lie beyond its position")
    capacity = len(stretches.least) // max(1, rules.shortest) + count + 1
    least_price = np.zeros(count, dtype=np.int64)
    rows = np.empty((capacity, ROW_WIDTH), dtype=np.int64)
    given = {
        "stretches": count,
        **stretches._asdict(),
        "tables": len(price),
        "price_widths": price.shape[1],
        "price_lengths": price.shape[2],
        "price": price,
        **rules._asdict(),
        "least_price": least_price,
        "capacity": capacity,
        "rows_out": rows,
    }
    arguments = LEAST_PRICED_LAYOUTS.checked(given)
    _check_knots(stretches)
    library = compiled_library("joint_bound")
    if library is None:
        return _by_reference(stretches, price, rules)
    found = int(LEAST_PRICED_LAYOUTS.function(library)(*arguments))
    if found == _NO_MEMORY:
        raise MemoryError("no memory for the bound over joint layouts")
    if found < 0:
        raise RuntimeError(
            "the bound over joint layouts found no way to the end of a run: a fault of this tool"
        )
    return least_price, rows[:found]


def _check_knots(stretches: StretchTables) -> None:
    """Raises ValueError where measured positions do not ascend or do not reach over their stretch."""
    first, after = stretches.knot_start[:-1], stretches.knot_start[1:]
    steps = np.diff(stretches.knot_at)
    steps[after[:-1] - 1] = 1  # from one stretch to the next
    ends = np.diff(stretches.point_start) - 1
    if (
        (steps < 1).any()
        or (stretches.knot_at[first] > 0).any()
        or (stretches.knot_at[after - 1] < ends).any()
    ):
        raise ValueError(
            "least_priced_layouts: knot_at must ascend, from a stretch's start or before to its end"
        )


def _positions(point_start: Values) -> Values:
    """Each position, counted from its stretch's start."""
    every = np.arange(point_start[-1], dtype=np.int64)
    return every - np.repeat(point_start[:-1], np.diff(point_start))


def _by_reference(stretches: StretchTables, price: Values, rules: SpanRules) -> tuple[Values, Values]:
    tables = price.tolist()
    prices: list[int] = []
    rows: list[tuple[int, ...]] = []
    for s, table in enumerate(stretches.table_of.tolist()):
        here = slice(*stretches.point_start[s : s + 2].tolist())
        knots = slice(*stretches.knot_start[s : s + 2].tolist())
        boards = slice(*stretches.board_start[s : s + 2].tolist())
        found = reference.least_priced_layout(
            reference.Stretch(
                stretches.least[here].tolist(),
                stretches.greatest[here].tolist(),
                stretches.joint[here].tolist(),
                stretches.need[here].tolist(),
                stretches.cap[here].tolist(),
                stretches.next_knot[here].tolist(),
                GapLine(stretches.knot_at[knots].tolist(), stretches.knot_gap[knots].tolist()),
                Rates(*rules[:3]),
                list(
                    zip(
                        stretches.board_length[boards].tolist(),
                        stretches.board_width[boards].tolist(),
                        strict=True,
                    )
                ),
                int(stretches.pieces[s]),
                rules.taper_max,
            ),
            tables[table],
            rules.piece_min,
            rules.shortest,
        )
        if found is None:
            raise RuntimeError(
                "the bound over joint layouts found no way to the end of a run: a fault of this tool"
            )
        prices.append(found[0])
        rows += [(s, *span) for span in found[1]]
    return (
        np.array(prices, dtype=np.int64),
        np.array(rows, dtype=np.int64).reshape(-1, ROW_WIDTH),
    )
