"""How long a straight piece may be on a curved edge."""

from __future__ import annotations

from math import isqrt

from optimiser.model.project import Detail, Run


def longest_on_curve_mm(radius_mm: int, offset_mm: int) -> int | None:
    """The longest piece of a curve of a radius that its chord leaves by at most `offset_mm`; None: any length.

    The sagitta of a chord c is s = r - sqrt(r2 - c2 / 4), so c = 2 sqrt(2 r s - s2), rounded down to the millimetre
    (plane geometry: Euclid, Elements III). Positions along a run are measured along the curve, which is longer than
    its chord: a piece of that length keeps well within. Where the offset reaches the radius no chord leaves more.
    """
    if offset_mm >= radius_mm:
        return None
    return isqrt(4 * offset_mm * (2 * radius_mm - offset_mm))


def longest_piece_mm(run: Run, detail: Detail) -> int | None:
    """How long a piece of a run may be for its curve, in mm; None where it is straight, or its curve hardly bends."""
    return None if run.radius_mm is None else longest_on_curve_mm(run.radius_mm, detail.curve_offset_max_mm)
