"""The two knapsacks of column pricing (`cutting.c`): strips along a board's length, boards across its width.

Bounded knapsacks over integers by dynamic programming (Gilmore and Gomory, Operations Research 13, 1965, in two
stages). A size carries its kerf already: a piece of length l takes l + kerf of a capacity of length + kerf.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimiser.kernels.patterns import Pairs


class Parcel(NamedTuple):
    """Some copies of an item that are taken together or not at all."""

    item: int
    copies: int
    size: int
    value: int


def parcels_of(item: int, size: int, value: int, bound: int, capacity: int) -> list[Parcel]:
    """The copies of an item that may be taken, in parcels of 1, 2, 4, ... and the rest: any number of copies up
    to `bound`, as far as they fit, is the sum of some parcels."""
    left = min(bound, capacity // size) if size > 0 else 0
    parcels: list[Parcel] = []
    part = 1
    while left > 0:
        part = min(part, left)
        parcels.append(Parcel(item, part, part * size, part * value))
        left -= part
        part *= 2
    return parcels


@dataclass(frozen=True)
class Knapsack:
    """`best[c]` is the greatest value within capacity c; `taken[p, c]`: whether parcel p belongs to it, the later
    parcels having been decided."""

    parcels: Sequence[Parcel]
    best: NDArray[np.int64]
    taken: NDArray[np.bool_]

    @classmethod
    def solved(cls, parcels: Sequence[Parcel], capacity: int) -> Knapsack:
        """Parcel by parcel: taken only where that is worth more than without."""
        best = np.zeros(capacity + 1, np.int64)
        taken = np.zeros((len(parcels), capacity + 1), np.bool_)
        for p, parcel in enumerate(parcels):
            with_it = best[: capacity + 1 - parcel.size] + parcel.value
            taken[p, parcel.size :] = with_it > best[parcel.size :]
            best[parcel.size :] = np.maximum(best[parcel.size :], with_it)
        return cls(parcels, best, taken)

    def copies(self, capacity: int) -> Counter[int]:
        """Copies of each item in the best choice within `capacity`."""
        chosen: Counter[int] = Counter()
        for p in range(len(self.parcels) - 1, -1, -1):
            if self.taken[p, capacity]:
                chosen[self.parcels[p].item] += self.parcels[p].copies
                capacity -= self.parcels[p].size
        return chosen


def useful_components(
    lengths: Sequence[int],
    width_min: Sequence[int],
    width_max: Sequence[int],
    bounds: Sequence[int],
    values: Sequence[int],
    width: int,
    capacity: int,
) -> list[int]:
    """The components whose windows hold a width and that a best set may need: of one length no more copies than fit
    `capacity`, the most valuable ones, the earlier of equal ones. Any other of that length can be exchanged for one of
    these."""
    left: dict[int, int] = {}
    found = []
    for i in sorted(range(len(lengths)), key=lambda i: (lengths[i], -values[i], i)):
        if values[i] <= 0 or not width_min[i] <= width <= width_max[i] or lengths[i] > capacity:
            continue
        there = left.setdefault(lengths[i], capacity // lengths[i] if lengths[i] > 0 else 0)
        if there > 0:
            found.append(i)
            left[lengths[i]] = there - min(bounds[i], there)
    return sorted(found)


class StripPrices(NamedTuple):
    """Of each width the greatest value; the patterns of the widths and then of the components; the width index
    of each component's own pattern, -1 where it has none."""

    best: list[int]
    patterns: list[Pairs]
    own_width: list[int]


def price_strips(
    lengths: Sequence[int],
    width_min: Sequence[int],
    width_max: Sequence[int],
    bounds: Sequence[int],
    values: Sequence[int],
    widths: Sequence[int],
    capacity: int,
    slot_values: Sequence[int] | None,
) -> StripPrices:
    """For every strip width the most valuable components whose windows [width_min, width_max] hold it and whose
    lengths fit `capacity`, none more often than its bound.

    With `slot_values`, for every component also the strip that holds it and gains most over its width's slot
    value: one copy of it and the best filling of the rest. A gain counts when it exceeds the greatest so far (at
    first 0) by more than 1. Components without a positive value are left out.
    """
    best: list[int] = []
    patterns: list[Pairs] = [()] * (len(widths) + len(lengths))
    own_width, gains = [-1] * len(lengths), [0] * len(lengths)
    for w, width in enumerate(widths):
        parcels = [
            parcel
            for i in useful_components(lengths, width_min, width_max, bounds, values, width, capacity)
            for parcel in parcels_of(i, lengths[i], values[i], bounds[i], capacity)
        ]
        knapsack = Knapsack.solved(parcels, capacity)
        best.append(int(knapsack.best[capacity]))
        patterns[w] = _pairs(knapsack.copies(capacity))
        if slot_values is None:
            continue
        for i, length in enumerate(lengths):
            if values[i] <= 0 or length > capacity or bounds[i] <= 0:
                continue
            if not width_min[i] <= width <= width_max[i]:
                continue
            rest = capacity - length
            gain = values[i] + int(knapsack.best[rest]) - slot_values[w]
            if gain > gains[i] + 1:
                gains[i], own_width[i] = gain, w
                patterns[len(widths) + i] = _pairs(_with_one_more(knapsack.copies(rest), i, bounds[i]))
    return StripPrices(best, patterns, own_width)


class BoardPrices(NamedTuple):
    """Values and patterns: first the best of all, then for every width the best that holds it."""

    best: list[int]
    patterns: list[Pairs]


def price_boards(
    widths: Sequence[int], bounds: Sequence[int], values: Sequence[int], capacity: int
) -> BoardPrices:
    """The most valuable strips across a board, and for each width the best board that holds a strip of it: one
    strip of that width and the best filling of the rest, none more often than its bound."""
    parcels = [
        parcel
        for w, width in enumerate(widths)
        if values[w] > 0
        for parcel in parcels_of(w, width, values[w], bounds[w], capacity)
    ]
    knapsack = Knapsack.solved(parcels, capacity)
    patterns = [_pairs(knapsack.copies(capacity))]
    for w, width in enumerate(widths):
        if width <= capacity and values[w] > 0 and bounds[w] > 0:
            patterns.append(_pairs(_with_one_more(knapsack.copies(capacity - width), w, bounds[w])))
        else:
            patterns.append(())
    best = [sum(copies * int(values[w]) for w, copies in pairs) for pairs in patterns]
    return BoardPrices(best, patterns)


def _with_one_more(copies: Counter[int], item: int, bound: int) -> Counter[int]:
    copies[item] = min(bound, copies[item] + 1)
    return copies


def _pairs(copies: Counter[int]) -> Pairs:
    return tuple(sorted((item, count) for item, count in copies.items() if count))


@dataclass(frozen=True)
class OffcutPrices:
    """The value of each offcut's best pattern, and the patterns as rows (offcut, width, strips of it, item, copies in
    each of them), in the order of widths, of a width the last offcut first."""

    best: list[int]
    rows: list[tuple[int, int, int, int, int]]


def price_offcuts(
    lengths: Sequence[int],
    width_min: Sequence[int],
    width_max: Sequence[int],
    bounds: Sequence[int],
    values: Sequence[int],
    widths: Sequence[int],
    width_bounds: Sequence[int],
    kerf: int,
    offcut_length: Sequence[int],
    offcut_width: Sequence[int],
) -> OffcutPrices:
    """The most valuable two-stage pattern of each offcut: strips along its length, side by side across its width.

    Lengths carry the kerf already, widths do not. The strips of a width are solved once, for all lengths.
    """
    longest, widest = max(offcut_length, default=0), max(offcut_width, default=0)
    strips: dict[int, Knapsack] = {}
    for w, width in enumerate(widths):
        parcels = [
            parcel
            for i in useful_components(lengths, width_min, width_max, bounds, values, width, longest)
            for parcel in parcels_of(i, lengths[i], values[i], bounds[i], longest)
        ]
        if parcels and width + kerf <= widest:
            strips[w] = Knapsack.solved(parcels, longest)
    best: list[int] = []
    wanted: dict[int, list[tuple[int, int]]] = {}
    for q, (along, across) in enumerate(zip(offcut_length, offcut_width, strict=True)):
        board = Knapsack.solved(
            [
                parcel
                for w, strip in strips.items()
                if strip.best[along] > 0 and widths[w] + kerf <= across
                for parcel in parcels_of(w, widths[w] + kerf, int(strip.best[along]), width_bounds[w], across)
            ],
            across,
        )
        best.append(int(board.best[across]))
        for w, copies in board.copies(across).items():
            wanted.setdefault(w, []).append((q, copies))
    rows = [
        (q, w, copies, item, count)
        for w in sorted(wanted)
        for q, copies in reversed(wanted[w])
        for item, count in _pairs(strips[w].copies(offcut_length[q]))
    ]
    return OffcutPrices(best, rows)
