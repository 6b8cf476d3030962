"""What a drawn run is measured by: its two scales, and its gap and notches at them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.survey.gap_line import GapAlongRun
from optimiser.writing.drawing.run_view import RunView
from optimiser.writing.drawing.shapes import POINTS_PER_MM

_ALONG = (10, 15, 20, 25, 30, 40, 50)  # drawn 1 : this, the largest that a single row allows
_LONG_RUNS = (40, 45)  # of these, the one that needs fewer rows
_ACROSS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40)
_TALLEST_GAP = 54.0  # points

Along = Callable[[float], float]
"""From a position on the run in mm to a place along the row in points."""


@dataclass(frozen=True, slots=True)
class Scales:
    """Points per millimetre, and the scales' denominators as said on the drawing."""

    along: int
    across: int

    @property
    def x(self) -> float:
        """Points a millimetre along the slab edge."""
        return POINTS_PER_MM / self.along

    @property
    def y(self) -> float:
        """Points a millimetre across the gap."""
        return POINTS_PER_MM / self.across


def scales_for(
    view: RunView, width: float, long_runs: Sequence[int] = _LONG_RUNS, tallest: float = _TALLEST_GAP
) -> Scales:
    """The largest usual scales with which the run needs one row, or, of a long run, the one of `long_runs` with the
    fewest rows; the widest gap is drawn `tallest` points high at most."""
    room = width - 30
    pieces = [stretch for stretch in view.stretches if stretch.piece] or view.stretches
    longest = max((stretch.to_mm - stretch.from_mm for stretch in pieces), default=0)
    along = next((scale for scale in _ALONG if view.run.length_mm * POINTS_PER_MM / scale <= room), 0)
    if not along:
        along = min(
            long_runs,
            key=lambda scale: -(-len(pieces) // max(1, int(room * scale / POINTS_PER_MM / longest))),
        )
    while longest * POINTS_PER_MM / along > room:
        along *= 2
    largest = max(gap.gap_mm for gap in view.gaps)
    across = next(
        (scale for scale in _ACROSS if largest * POINTS_PER_MM / scale <= tallest),
        ceil(largest * POINTS_PER_MM / tallest),
    )
    return Scales(along, across)


def scale_words(scales: Scales, view: RunView) -> str:
    """What the drawing's reader must know of its scales."""
    words = f"Seen from above. Along the edge 1 : {scales.along}, across the gap 1 : {scales.across}. mm."
    return f"{words} Ids begin with {view.prefix}" if view.prefix else words


def gap_corners(along: GapAlongRun, start: int, end: int) -> list[tuple[int, Fraction]]:
    """The gap's corners from `start` to `end`, both included."""
    return [(at, along.at(at)) for at in (start, *along.knots_inside(start, end), end)]


def notch_points(view: RunView, scales: Scales) -> tuple[float, float]:
    """Half the width and the depth of a notch in points: to scale where the mullion was measured, else as a sign."""
    width, depth = view.run.mullion_width_mm, view.run.mullion_depth_mm
    half = 3.5 if width is None else max(1.0, width * scales.x / 2)
    return half, 5.0 if depth is None else max(1.5, depth * scales.y)
