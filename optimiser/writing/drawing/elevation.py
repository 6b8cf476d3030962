"""A run drawn to scale, seen from above: slab, gap as surveyed, pieces, joints, brackets, notches, mullions.

A run is long and its gap is narrow, so it has two scales, both stated: one along the slab edge, one across the
gap. A long run is broken at its joints into rows.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.products import Bracket
from optimiser.writing.drawing.elevation_scales import (
    Along,
    Scales,
    gap_corners,
    notch_points,
    scale_words,
    scales_for,
)
from optimiser.writing.drawing.elevation_words import write_joints, write_readings, write_stretch
from optimiser.writing.drawing.not_ready import BAND, add_not_ready
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, Stretch
from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Drawing,
    Label,
    Line,
    Polygon,
    hatching,
    rectangle,
    shortened,
    wrapped,
)

_LONG_COMPACT_RUNS = (80, 90, 100, 125)  # of the crew's overview, whose figures stand in the set-out
_LOWEST_COMPACT_GAP = 24.0  # points
_LINE = 11.0  # points from one line of words to the next


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
    said = wrapped(scale_words(scales, view), width - 8, SMALLEST_TEXT)
    height = sum(row.height for row in rows) + 6 * max(0, len(rows) - 1) + 3 + _LINE * len(said)
    drawing = Drawing(width, height + (BAND if nominal else 0))
    if nominal:
        add_not_ready(drawing, 0, height, width)
    top = height
    for row in rows:
        drawing.paste(row, 0, top - row.height)
        top -= row.height + 6
    _add_words(drawing, said)
    return drawing


def elevation_by_rows(index: PlanIndex, view: RunView, width: float) -> list[Drawing]:
    """Each row of a run as a picture of its own, for pages that break between them, the last with the scales said
    below; of a nominal level each marked as not ready to cut."""
    scales, rows = elevation_rows(index, view, width)
    nominal = view.run.level in index.forecast_levels
    pictures = []
    for number, row in enumerate(rows, 1):
        said = wrapped(scale_words(scales, view), width - 8, SMALLEST_TEXT) if number == len(rows) else []
        below = 3 + _LINE * len(said)
        height = row.height + below
        picture = Drawing(width, height + (BAND if nominal else 0))
        if nominal:
            add_not_ready(picture, 0, height, width)
        picture.paste(row, 0, below)
        _add_words(picture, said)
        pictures.append(picture)
    return pictures


def _add_words(drawing: Drawing, lines: Sequence[str]) -> None:
    """Lines of words at the foot of a drawing."""
    for number, line in enumerate(reversed(lines)):
        drawing.add(Label(4, 3 + _LINE * number, line, SMALLEST_TEXT))


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
    gaps_here = gap_corners(view.along, start, end)
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
        inside = gap_corners(view.along, stretch.from_mm, stretch.to_mm)
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
        write_stretch(drawing, index, view, stretch, scales, slab, x_of)
    if dimensions:
        write_joints(drawing, [start, *(stretch.to_mm for stretch in stretches)], x_of)
    write_readings(drawing, view, start, end, scales, slab + tallest, slab, x_of, 2 if dimensions else 1)
    return drawing


def _junction(drawing: Drawing, other: str, x: float, slab: float, height: float, at_start: bool) -> None:
    """The taped joint with another run, beyond slab and facade, and that run's name outside it."""
    drawing.add(Line(x, slab - 10, x, slab + height + 10, "joint"))
    name = shortened(other, height + 26, SMALLEST_TEXT)
    drawing.add(
        Label(x - 4 if at_start else x + 10, slab + height / 2, name, SMALLEST_TEXT, "middle", turned=True)
    )


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
        half, deep = notch_points(view, scales)
        drawing.add(
            Polygon(((x - half, y), (x - half, y - deep), (x + half, y - deep), (x + half, y)), "notch")
        )
