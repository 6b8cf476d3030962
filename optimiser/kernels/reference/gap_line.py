"""The gap along a run and the cut widths it allows (`gap_windows.h`), in exact fractions.

Measured positions are whole millimetres, so between two neighbouring whole millimetres the gap is linear: what
holds at every whole millimetre holds everywhere between.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple


@dataclass(frozen=True)
class GapLine:
    """Gaps `gap` at the measured positions `at` (ascending), in mm: linear between, constant before and after."""

    at_mm: Sequence[int]
    gap_mm: Sequence[int]

    def ratio(self, position: int) -> tuple[int, int]:
        """The gap at a whole millimetre as (numerator, denominator), not reduced."""
        after = bisect_right(self.at_mm, position)
        if after == 0:
            return self.gap_mm[0], 1
        if after == len(self.at_mm):
            return self.gap_mm[-1], 1
        x0, x1 = self.at_mm[after - 1], self.at_mm[after]
        return self.gap_mm[after - 1] * (x1 - position) + self.gap_mm[after] * (position - x0), x1 - x0

    def at(self, position: int) -> Fraction:
        """The gap at a whole millimetre."""
        return Fraction(*self.ratio(position))

    def inside(self, from_mm: int, to_mm: int) -> list[int]:
        """The measured positions strictly inside a span, ascending."""
        first = bisect_right(self.at_mm, from_mm)
        return [position for position in self.at_mm[first:] if position < to_mm]

    def extremes(self, from_mm: int, to_mm: int) -> tuple[Fraction, Fraction]:
        """The least and the greatest gap anywhere in a span."""
        gaps = [self.at(position) for position in (from_mm, *self.inside(from_mm, to_mm), to_mm)]
        return min(gaps), max(gaps)


class Rates(NamedTuple):
    """Cut width over gap: from `least / unit` to `greatest / unit`."""

    unit: int
    least: int
    greatest: int


class Span(NamedTuple):
    """What a span asks of the piece over it: the least gap rounded down and the greatest rounded up, and the
    compression window, all in mm. No width serves where width_min > width_max."""

    gap_floor: int
    gap_ceil: int
    width_min: int
    width_max: int


class Widths:
    """Of every whole millimetre of a run: the gap rounded down and up, and the least and greatest cut width."""

    def __init__(self, gap: GapLine, length: int, rates: Rates) -> None:
        self.gap, self.rates = gap, rates
        ratios = [gap.ratio(x) for x in range(length + 1)]
        self.gap_floor = [numerator // over for numerator, over in ratios]
        self.gap_ceil = [-(-numerator // over) for numerator, over in ratios]
        self.least = [-(-numerator * rates.least // (over * rates.unit)) for numerator, over in ratios]
        self.greatest = [numerator * rates.greatest // (over * rates.unit) for numerator, over in ratios]

    def span(self, from_mm: int, to_mm: int) -> Span:
        """What the span [from_mm, to_mm] asks."""
        here = slice(from_mm, to_mm + 1)
        return Span(
            min(self.gap_floor[here]),
            max(self.gap_ceil[here]),
            max(self.least[here]),
            min(self.greatest[here]),
        )

    def reach(self, widest: int, longest: int) -> list[int]:
        """From every millimetre, how far a piece no wider than `widest` may go, at most `longest`: as far as one
        width serves. Below the millimetre itself where none serves even there.

        A width serves a span when the least width of no place in it exceeds the greatest of another.
        """
        far = [0] * len(self.least)
        end, before = len(self.least) - 1, None
        for p in range(end, -1, -1):
            here = self.least[p], min(self.greatest[p], widest)
            end = min(end, p + longest)
            if here != before:  # else it asks no more than the millimetre after it
                low, high = before = here
                places = range(p, end + 1)
                blocked = (e for e in places if self.least[e] > high or self.greatest[e] < low)
                end = next(blocked, end + 1) - 1
            elif here[0] > here[1]:
                end = p - 1
            far[p] = end
        return far

    def taper(self, from_mm: int, to_mm: int, widest: int, most: int) -> tuple[int, int] | None:
        """The least end widths of a tapered piece over a span, no wider than `widest` and differing by `most` at the
        most; None when there are none.

        The straight edge between the ends must stay within the gap's limits at every measured position inside.
        The narrower its wider end the better, then the less their sum, then the narrower its start.
        """
        unit, length = self.rates.unit, to_mm - from_mm
        inside = []
        for x in self.gap.inside(from_mm, to_mm):
            numerator, over = self.gap.ratio(x)
            gap = numerator // over  # a measured position: a whole number of mm
            inside.append((x - from_mm, gap * self.rates.least * length, gap * self.rates.greatest * length))
        best: tuple[int, int, int, int] | None = None
        for start in range(self.least[from_mm], min(self.greatest[from_mm], widest) + 1):
            if best is not None and start > best[0]:
                break
            low = max(self.least[to_mm], start - most)
            high = min(self.greatest[to_mm], widest, start + most)
            for x, needed, allowed in inside:  # (start (length - x) + end x) unit within [needed, allowed]
                at_start = start * (length - x) * unit
                low = max(low, -(-(needed - at_start) // (x * unit)))
                high = min(high, (allowed - at_start) // (x * unit))
            if low <= high:
                found = (max(start, low), start + low, start, low)
                best = found if best is None else min(best, found)
        return best[2:] if best is not None else None

    def straight_edge_exists(self, from_mm: int, to_mm: int, most: int) -> bool:
        """Whether any straight edge at all, its ends whole widths or not, stays within the limits over a span and
        rises or falls by `most` at the most.

        There is one when the greatest slope that two places need is no more than the least that two allow; where
        there is none, there is none over any longer span either.
        """
        places = [from_mm, *self.gap.inside(from_mm, to_mm), to_mm]
        limits = [
            (x, gap * self.rates.least / self.rates.unit, gap * self.rates.greatest / self.rates.unit)
            for x in places
            for gap in (self.gap.at(x),)
        ]
        steepest = Fraction(most, to_mm - from_mm)
        pairs = [(a, b) for i, a in enumerate(limits) for b in limits[i + 1 :]]
        needed = max((low - high) / (x1 - x0) for (x0, _, high), (x1, low, _) in pairs)
        allowed = min((high - low) / (x1 - x0) for (x0, low, _), (x1, _, high) in pairs)
        return max(needed, -steepest) <= min(allowed, steepest)
