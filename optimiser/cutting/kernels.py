"""The inner loops of the cutting solver: the two knapsacks of column pricing and the constructive heuristic.

Calls into `optimiser.kernels.bindings`; what each does is written to be read in `optimiser/kernels/reference/`.
"""

from __future__ import annotations

from optimiser.kernels import bindings
from optimiser.kernels.patterns import Ints, Patterns, Values

__all__ = [
    "Ints",
    "Patterns",
    "Values",
    "fill_boards",
    "form_strips",
    "price_boards",
    "price_offcuts",
    "price_strips",
]


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
    Raises MemoryError; TypeError or ValueError for arrays that are not as they must be.
    """
    return bindings.price_strips(lengths, width_min, width_max, bounds, values, widths, capacity, slot_values)


def price_boards(widths: Ints, bounds: Ints, values: Values, capacity: int) -> Patterns:
    """The most valuable strips across a board (pattern 0), and for each width the best that hold it (1 + width).

    Widths and capacity carry the kerf already (Gilmore and Gomory 1965, outer problem). Raises MemoryError;
    TypeError or ValueError for arrays that are not as they must be.
    """
    return bindings.price_boards(widths, bounds, values, capacity)


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
    """The most valuable two-stage pattern of each offcut: its value, and rows (offcut, width, strips of it, item,
    copies in each of them).

    Lengths carry the kerf already, widths do not. The strips of a width are solved once for the offcuts of all
    lengths. Raises MemoryError; TypeError or ValueError for arrays that are not as they must be.
    """
    return bindings.price_offcuts(
        lengths,
        width_min,
        width_max,
        bounds,
        values,
        widths,
        width_bounds,
        kerf,
        offcut_length,
        offcut_width,
    )


def form_strips(
    lengths: Ints, width_min: Ints, width_max: Ints, capacity: int, shortest: int, tolerance: int
) -> tuple[Ints, Ints]:
    """Best-fit strips from pieces in the order given: (strip of each piece, width of each strip).

    `tolerance`: the waste, in thousandths of a piece's area, above which a new strip is opened instead. Raises
    MemoryError; TypeError or ValueError for arrays that are not as they must be.
    """
    return bindings.form_strips(lengths, width_min, width_max, capacity, shortest, tolerance)


def fill_boards(widths: Ints, demand: Ints, capacity: int) -> list[tuple[tuple[tuple[int, int], ...], int]]:
    """Boards for `demand` strips of each width (ascending): (pattern of (width index, copies), repeat) each.

    The widest strip still needed, then the fullest board it allows, repeated while the demand lasts. Raises
    MemoryError; TypeError or ValueError for arrays that are not as they must be.
    """
    return bindings.fill_boards(widths, demand, capacity)
