"""The gap along one run, exactly, and what width a piece over a span of it may have.

Linear between two measured positions, constant before the first and after the last.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from fractions import Fraction
from math import ceil, floor

from optimiser.model.project import Detail, Gap


class GapLine:
    """The gap of one run at every position, with the detail's oversize limits."""

    def __init__(self, gaps: Iterable[Gap], detail: Detail) -> None:
        ordered = sorted(gaps, key=lambda gap: gap.at_mm)
        self.positions = [gap.at_mm for gap in ordered]
        self.gaps = [gap.gap_mm for gap in ordered]
        self.at_least = 1 + Fraction(detail.oversize_min)
        self.at_most = 1 + Fraction(detail.oversize_max)

    def at(self, position: int) -> Fraction:
        """The gap at a position of the run, in mm."""
        after = bisect_right(self.positions, position)
        if after == 0:
            return Fraction(self.gaps[0])
        if after == len(self.positions):
            return Fraction(self.gaps[-1])
        left, right = self.positions[after - 1], self.positions[after]
        rise = self.gaps[after] - self.gaps[after - 1]
        return self.gaps[after - 1] + Fraction(rise * (position - left), right - left)

    def corners(self, start: int, end: int) -> list[int]:
        """The span's two ends and the measured positions between them: the gap is straight in between."""
        inside = self.positions[bisect_right(self.positions, start) : bisect_left(self.positions, end)]
        return [start, *inside, end]

    def extremes(self, start: int, end: int) -> tuple[Fraction, Fraction]:
        """The narrowest and the widest gap over a span."""
        gaps = [self.at(position) for position in self.corners(start, end)]
        return min(gaps), max(gaps)

    def window(self, start: int, end: int) -> tuple[int, int]:
        """The least and the largest single cut width for a span; empty when the first is above the second."""
        narrowest, widest = self.extremes(start, end)
        return ceil(widest * self.at_least), floor(narrowest * self.at_most)

    def straight_fits(self, start: int, end: int, width_start: int, width_end: int) -> bool:
        """Whether a piece cut straight from one end width to the other keeps both limits everywhere."""
        return all(
            self.at(position) * self.at_least
            <= width_start + Fraction((width_end - width_start) * (position - start), end - start)
            <= self.at(position) * self.at_most
            for position in self.corners(start, end)
        )

    def straight_exists(self, start: int, end: int, taper_most: int) -> bool:
        """Whether any two whole end widths that differ by no more than `taper_most` make a straight cut that keeps both
        limits everywhere."""
        limits = [
            (Fraction(position - start, end - start), gap * self.at_least, gap * self.at_most)
            for position, gap in ((corner, self.at(corner)) for corner in self.corners(start, end))
        ]
        for width_start in range(ceil(limits[0][1]), floor(limits[0][2]) + 1):
            # At share t of the span: low <= width_start (1 - t) + width_end t <= high.
            least = max(ceil((low - width_start * (1 - t)) / t) for t, low, _ in limits[1:])
            most = min(floor((high - width_start * (1 - t)) / t) for t, _, high in limits[1:])
            if max(least, width_start - taper_most) <= min(most, width_start + taper_most):
                return True
        return False

    def single_width_serves(self, start: int, end: int) -> bool:
        """Whether one whole cut width serves the span."""
        least, most = self.window(start, end)
        return least <= most
