"""The compression window: which cut widths a piece may have over its span, exactly.

Rule of the contract: a cut width is at least `gap x (1 + oversize_min)` (rounded up) and at most
`gap x (1 + oversize_max)` (rounded down) everywhere along the piece. The tested detail sets the rates.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from optimiser.model.project import Detail
from optimiser.survey.gap_line import GapAlongRun

FINEST_RATE = 10**9  # a rate's denominator: nine decimals, far beyond any tested detail


@dataclass(frozen=True)
class WidthRates:
    """Cut width over gap as fractions with one denominator: `least / unit` to `greatest / unit`."""

    unit: int
    least: int
    greatest: int

    @classmethod
    def of(cls, detail: Detail) -> WidthRates:
        """Raises ValueError for a rate with more than nine decimals."""
        least, greatest = 1 + Fraction(detail.oversize_min), 1 + Fraction(detail.oversize_max)
        unit = lcm(least.denominator, greatest.denominator)
        if unit > FINEST_RATE:
            raise ValueError(
                f"oversize_min {detail.oversize_min} and oversize_max {detail.oversize_max} have more than"
                " nine decimals; round them"
            )
        return cls(unit, int(least * unit), int(greatest * unit))

    def width_min(self, numerator: int, denominator: int = 1) -> int:
        """The least cut width, in mm, for a gap of numerator / denominator mm."""
        return -(-numerator * self.least // (denominator * self.unit))

    def width_max(self, numerator: int, denominator: int = 1) -> int:
        """The greatest cut width, in mm, for a gap of numerator / denominator mm."""
        return numerator * self.greatest // (denominator * self.unit)


def compression_window(rates: WidthRates, gap: GapAlongRun, from_mm: int, to_mm: int) -> tuple[int, int]:
    """(width_min, width_max) in mm over the span [from_mm, to_mm]; empty when width_min > width_max."""
    least, greatest = gap.extremes(from_mm, to_mm)
    return (
        rates.width_min(greatest.numerator, greatest.denominator),
        rates.width_max(least.numerator, least.denominator),
    )
