"""A run drawn to scale, seen from above: slab, gap as surveyed, pieces, joints, brackets, notches, mullions.

A run is long and its gap is narrow, so it has two scales, both stated: one along the slab edge, one across the
gap. A long run is broken at its joints into rows.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.products import Bracket
from optimiser.survey.gap_line import GapAlongRun
from optimiser.writing.drawing.not_ready import BAND, add_not_ready
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, Stretch, short_id
from optimiser.writing.drawing.shapes import (
    POINTS_PER_MM,
    SMALLEST_TEXT,
    Drawing,
    Label,
    Line,
    Polygon,
    hatching,
    label_box,
    rectangle,
    shortened,
    text_width,
)

_ALONG = (10, 15, 20, 25, 30, 40, 50)  # drawn 1 : this, the largest that a single row allows
_LONG_RUNS = (40, 45)  # of these, the one that needs fewer rows
_ACROSS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40)
_TALLEST_GAP = 54.0  # points
_LONG_COMPACT_RUNS = (80, 90, 100, 125)  # of the crew's overview, whose figures stand in the set-out
_LOWEST_COMPACT_GAP = 24.0  # points
_TEXT = SMALLEST_TEXT

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


def elevation_rows(index: PlanIndex, view: RunView, width: float) -> tuple[Scales, list[Drawing]]:
    """The run's rows from its start, each as wide as `width` points at most."""
    scales = scales_for(view, width)
    return scales, _rows(index, view, width, scales, dimensions=True)


def compact_rows(index: PlanIndex, view: RunView, width: float) -> tuple[Scales, list[Drawing]]:
    """The run's rows as small as can be read, without the dimensions that its set-out has."""
    scales = scales_for(view, width, _LONG_COMPACT_RUNS, _LOWEST_COMPACT_GAP)
    return scales, _rows(index, view, width, scales, dimensions=False)


def _rows(
    index: PlanIndex, view: RunView, width: float, scales: Scales, *, dimensions: bool
) -> list[Drawing]:
    room = width - 30
    rows: list[Drawing] = []
    waiting: list[Stretch] = []
    for stretch in _broken_stretches(view, int(room / scales.x)):
        if waiting and (stretch.to_mm - waiting[0].from_mm) * scales.x > room:
            rows.append(_row(index, view, waiting, scales, width, dimensions))
            waiting = []
        waiting.append(stretch)
    if waiting:
        rows.append(_row(index, view, waiting, scales, width, dimensions))
    return rows


def elevation_drawing(index: PlanIndex, view: RunView, width: float) -> Drawing:
    """All rows of a run in one picture, with the scales said below; of a nominal level marked as not ready to cut."""
    scales, rows = elevation_rows(index, view, width)
    nominal = view.run.level in index.forecast_levels
    height = sum(row.height for row in rows) + 6 * max(0, len(rows) - 1) + 14
    drawing = Drawing(width, height + (BAND if nominal else 0))
    if nominal:
        add_not_ready(drawing, 0, height, width)
    top = height
    for row in rows:
        drawing.paste(row, 0, top - row.height)
        top -= row.height + 6
    drawing.add(Label(4, 3, scale_words(scales, view), _TEXT))
    return drawing


def scale_words(scales: Scales, view: RunView) -> str:
    """What the drawing's reader must know of its scales."""
    words = f"Seen from above. Along the edge 1 : {scales.along}, across the gap 1 : {scales.across}. mm."
    return f"{words} Ids begin with {view.prefix}" if view.prefix else words


def _broken_stretches(view: RunView, longest_mm: int) -> list[Stretch]:
    """The stretches in order; one that cannot be built and is longer than a row is drawn in several."""
    found: list[Stretch] = []
    for stretch in view.stretches:
        start = stretch.from_mm
        while stretch.piece is None and stretch.to_mm - start > longest_mm:
            found.append(Stretch(start, start + longest_mm, None, stretch.reason))
            start += longest_mm
        found.append(Stretch(start, stretch.to_mm, stretch.piece, stretch.reason))
    return found


def _row(
    index: PlanIndex,
    view: RunView,
    stretches: Sequence[Stretch],
    scales: Scales,
    width: float,
    dimensions: bool,
) -> Drawing:
    """One row: from below, running dimensions, cut widths, slab, gap with pieces, facade, mullions, readings."""
    start, end = stretches[0].from_mm, stretches[-1].to_mm
    origin = 15.0
    gaps_here = _profile(view.along, start, end)
    tallest = max(float(gap) for _, gap in gaps_here) * scales.y
    slab = 44.0 if dimensions else 18.0
    facade_space = 36.0 if dimensions else 25.0
    drawing = Drawing(width, slab + tallest + facade_space)

    def x_of(at_mm: float) -> float:
        return origin + (at_mm - start) * scales.x

    right = x_of(end)
    drawing.add(rectangle(origin, slab - 6, right - origin, 6, "slab"))
    drawing.add(*hatching(((origin, slab - 6), (right, slab - 6), (right, slab), (origin, slab)), 5.0))
    for stretch in stretches:
        inside = _profile(view.along, stretch.from_mm, stretch.to_mm)
        outline = (
            (x_of(stretch.from_mm), slab),
            (x_of(stretch.to_mm), slab),
            *((x_of(at), slab + float(gap) * scales.y) for at, gap in reversed(inside)),
        )
        drawing.add(Polygon(outline, "piece" if stretch.piece else "not-planned"))
        if stretch.piece is None:
            drawing.add(
                Line(x_of(stretch.from_mm), slab, x_of(stretch.to_mm), outline[2][1], "rule"),
                Line(x_of(stretch.from_mm), outline[-1][1], x_of(stretch.to_mm), slab, "rule"),
            )
    for (at, gap), (next_at, next_gap) in itertools.pairwise(gaps_here):
        drawing.add(
            Line(
                x_of(at),
                slab + float(gap) * scales.y,
                x_of(next_at),
                slab + float(next_gap) * scales.y,
                "facade",
            )
        )
    drawing.add(Line(origin, slab, right, slab, "edge"))
    for stretch in stretches:
        if stretch.piece is not None:
            _brackets_and_notches(drawing, index, view, stretch.piece, scales, slab, x_of)
    for junction, other, at in (
        (view.begins_at, view.begins_at and view.begins_at.run, 0),
        (view.ends_at, view.ends_at and view.ends_at.joins, view.run.length_mm),
    ):
        if junction is not None and other and start <= at <= end:
            _junction(
                drawing, index.text(other), x_of(at), slab, float(view.along.at(at)) * scales.y, at == 0
            )
    for joint in view.joints:
        if start <= joint.at_mm <= end:
            x, high = x_of(joint.at_mm), slab + float(view.along.at(joint.at_mm)) * scales.y
            drawing.add(Line(x, slab, x, high, "joint"))
    for stretch in stretches:
        _stretch_words(drawing, index, view, stretch, scales, slab, x_of)
    if dimensions:
        _joint_dimensions(drawing, [start, *(stretch.to_mm for stretch in stretches)], x_of)
    _readings(drawing, view, start, end, scales, slab + tallest, slab, x_of, 2 if dimensions else 1)
    return drawing


def _junction(drawing: Drawing, other: str, x: float, slab: float, height: float, at_start: bool) -> None:
    """The taped joint with another run, beyond slab and facade, and that run's name outside it."""
    drawing.add(Line(x, slab - 10, x, slab + height + 10, "joint"))
    name = shortened(other, height + 26, _TEXT)
    drawing.add(Label(x - 4 if at_start else x + 10, slab + height / 2, name, _TEXT, "middle", turned=True))


def _profile(along: GapAlongRun, start: int, end: int) -> list[tuple[int, Fraction]]:
    """The gap's corners from `start` to `end`, both included."""
    return [(at, along.at(at)) for at in (start, *along.knots_inside(start, end), end)]


def _brackets_and_notches(
    drawing: Drawing,
    index: PlanIndex,
    view: RunView,
    piece: PlannedPiece,
    scales: Scales,
    slab: float,
    x_of: Along,
) -> None:
    """Each bracket from its anchor in the slab to its reach in the gap; each notch at the facade."""
    product = index.products.get(piece.bracket) if piece.bracket else None
    reach = product.reach_mm if isinstance(product, Bracket) else 0
    for at in piece.brackets_at_mm if piece.bracket else ():
        x = x_of(piece.from_mm + at)
        tip = slab + min(float(reach), float(view.along.at(piece.from_mm + at))) * scales.y
        drawing.add(Line(x, slab - 4, x, tip, "bracket"), Line(x - 3, tip, x + 3, tip, "bracket"))
        drawing.add(rectangle(x - 2, slab - 5, 4, 5, "anchor"))
    for at in piece.notches_at_mm:
        position = piece.from_mm + at
        x = x_of(position)
        y = slab + float(view.along.at(position)) * scales.y
        half, deep = _notch_size(view, scales)
        drawing.add(
            Polygon(((x - half, y), (x - half, y - deep), (x + half, y - deep), (x + half, y)), "notch")
        )


def _notch_size(view: RunView, scales: Scales) -> tuple[float, float]:
    """Half the width and the depth of a notch in points: to scale where the mullion was measured, else as a sign."""
    width, depth = view.run.mullion_width_mm, view.run.mullion_depth_mm
    half = 3.5 if width is None else max(1.0, width * scales.x / 2)
    return half, 5.0 if depth is None else max(1.5, depth * scales.y)


def _stretch_words(
    drawing: Drawing,
    index: PlanIndex,
    view: RunView,
    stretch: Stretch,
    scales: Scales,
    slab: float,
    x_of: Along,
) -> None:
    """The piece's id in the gap and its cut width below the slab (of a nominal level its nominal width, which is not
    to be cut); a piece too short for them has its id turned."""
    left, right = x_of(stretch.from_mm), x_of(stretch.to_mm)
    middle, room = (left + right) / 2, right - left - 3
    least = min(float(gap) for _, gap in _profile(view.along, stretch.from_mm, stretch.to_mm)) * scales.y
    if stretch.piece is None:
        for words in ("not planned", "!"):
            if text_width(words, _TEXT, True) <= room:
                unplanned = Label(middle, slab + least / 2 - 3, words, _TEXT, "middle", True)
                drawing.add(_halo(unplanned), unplanned)
                break
        return
    piece = stretch.piece
    name = short_id(index, view, piece)
    bracket = index.text(piece.bracket) if piece.bracket else ""
    width_words = (
        f"{piece.cut_width_start_mm}"
        if not piece.tapered
        else f"{piece.cut_width_start_mm} to {piece.cut_width_end_mm}"
    )
    size = 9.0 if text_width(name, 9, True) <= room else _TEXT
    label = None
    if text_width(name, size, True) <= room:
        label = Label(
            middle,
            slab
            + max(2.0, least - size - 2.5 - (_notch_size(view, scales)[1] if piece.notches_at_mm else 0)),
            name,
            size,
            "middle",
            True,
        )
    elif text_width(name, _TEXT, True) <= least - 3 and room >= _TEXT - 1:
        label = Label(middle + 3, slab + least / 2, name, _TEXT, "middle", True, turned=True)
    if label is not None:
        drawing.add(_halo(label), label)
    nominal = piece.level in index.forecast_levels
    cut = f"nominal {width_words}" if nominal else f"cut {width_words}"
    with_bracket = f"{cut} · {bracket}" if bracket else cut
    for words, size in (
        (with_bracket, _TEXT),
        (cut, _TEXT),
        (f"({width_words})" if nominal else width_words, _TEXT),
    ):
        if text_width(words, size, True) <= room + 1:
            drawing.add(Label(middle, slab - 16, words, size, "middle", True))
            break


def _halo(label: Label) -> Polygon:
    left, bottom, right, top = label_box(label)
    return rectangle(left - 1, bottom - 1.2, right - left + 2, top - bottom + 2.4, "halo")


def _joint_dimensions(drawing: Drawing, positions: Sequence[int], x_of: Along) -> None:
    """Running dimensions from the run's start under the joints, on a second line where they would touch."""
    free = [-100.0, -100.0]
    for at in positions:
        x, words = x_of(at), f"{at}"
        half = text_width(words, _TEXT) / 2
        line = 0 if x - half > free[0] + 3 else 1
        drawing.add(Line(x, 38, x, 23 - 10 * line, "dimension"))
        if x - half > free[line] + 3:
            drawing.add(Label(x, 14 - 10 * line + 1, words, _TEXT, "middle"))
            free[line] = x + half


def _readings(
    drawing: Drawing,
    view: RunView,
    start: int,
    end: int,
    scales: Scales,
    top: float,
    slab: float,
    x_of: Along,
    lines: int,
) -> None:
    """The surveyed gaps above the facade, a tick at each, on so many lines as far as there is room; mullions as blocks
    on the facade line."""
    for mullion in view.run.mullions_mm:
        if start <= mullion <= end:
            y = slab + float(view.along.at(mullion)) * scales.y
            half = max(1.0, _notch_size(view, scales)[0] - 0.5)
            drawing.add(rectangle(x_of(mullion) - half, y, 2 * half, 7, "mullion"))
    free = [-100.0, -100.0]
    for gap in view.gaps:
        if not start <= gap.at_mm <= end:
            continue
        x = x_of(gap.at_mm)
        words = f"{gap.gap_mm}" if gap.basis == "measured" else f"({gap.gap_mm})"
        half = text_width(words, _TEXT) / 2
        y = slab + gap.gap_mm * scales.y
        line = 0 if x - half > free[0] + 3 else 1
        if line >= lines:
            continue
        drawing.add(Line(x, y, x, top + 12 + 10 * line, "dimension"))
        if x - half > free[line] + 3:
            drawing.add(Label(x, top + 14 + 10 * line, words, _TEXT, "middle"))
            free[line] = x + half
