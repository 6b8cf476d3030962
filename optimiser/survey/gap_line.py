"""The gap along a run, exactly: linear between measured positions, constant before the first and after the
last. Positions and gaps in millimetres; gaps between positions are fractions, never binary floats.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from optimiser.model.project import Gap


@dataclass(frozen=True)
class GapAlongRun:
    """Measured gaps of one run: `at_mm` ascending positions from the run's start, `gap_mm` the gap at each."""

    at_mm: tuple[int, ...]
    gap_mm: tuple[int, ...]

    @classmethod
    def of(cls, gaps: Sequence[Gap]) -> GapAlongRun:
        """From a run's rows of the `gaps` table, in any order. Raises ValueError when there are none."""
        if not gaps:
            raise ValueError("a run without a measured gap cannot be laid out")
        ordered = sorted(gaps, key=lambda gap: gap.at_mm)
        return cls(tuple(gap.at_mm for gap in ordered), tuple(gap.gap_mm for gap in ordered))

    def ratio_at(self, position_mm: int) -> tuple[int, int]:
        """The gap at a whole millimetre as (numerator, denominator), not reduced."""
        after = bisect_right(self.at_mm, position_mm)
        if after == 0:
            return self.gap_mm[0], 1
        if after == len(self.at_mm):
            return self.gap_mm[-1], 1
        x0, x1 = self.at_mm[after - 1], self.at_mm[after]
        g0, g1 = self.gap_mm[after - 1], self.gap_mm[after]
        return g0 * (x1 - position_mm) + g1 * (position_mm - x0), x1 - x0

    def at(self, position_mm: int) -> Fraction:
        """The gap at a position, in millimetres."""
        return Fraction(*self.ratio_at(position_mm))

    def knots_inside(self, from_mm: int, to_mm: int) -> tuple[int, ...]:
        """The measured positions strictly inside a span: with its ends, where the gap can be extreme."""
        first = bisect_right(self.at_mm, from_mm)
        return tuple(position for position in self.at_mm[first:] if position < to_mm)

    def extremes(self, from_mm: int, to_mm: int) -> tuple[Fraction, Fraction]:
        """The least and the greatest gap anywhere in [from_mm, to_mm]."""
        gaps = [self.at(position) for position in (from_mm, *self.knots_inside(from_mm, to_mm), to_mm)]
        return min(gaps), max(gaps)


def deciding_gaps(gaps: Sequence[Gap], from_mm: int, to_mm: int) -> tuple[Gap, ...]:
    """The rows (in order of position) from which the gap over [from_mm, to_mm] follows: those inside, and the
    nearest on either side where an end lies between two."""
    first = max((i for i, gap in enumerate(gaps) if gap.at_mm <= from_mm), default=0)
    last = min((i for i, gap in enumerate(gaps) if gap.at_mm >= to_mm), default=len(gaps) - 1)
    return tuple(gaps[first : last + 1])
