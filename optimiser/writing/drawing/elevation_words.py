"""What is written on a drawn run: ids and cut widths of its pieces, its joints' positions, the surveyed gaps."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.writing.drawing.elevation_scales import Along, Scales, gap_corners, notch_points
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import RunView, Stretch, short_id
from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Drawing,
    Label,
    Line,
    Polygon,
    label_box,
    rectangle,
    text_width,
)


def write_stretch(
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
    least = min(float(gap) for _, gap in gap_corners(view.along, stretch.from_mm, stretch.to_mm)) * scales.y
    if stretch.piece is None:
        for words in ("not planned", "!"):
            if text_width(words, SMALLEST_TEXT, True) <= room:
                unplanned = Label(middle, slab + least / 2 - 3, words, SMALLEST_TEXT, "middle", True)
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
    size = 9.0 if text_width(name, 9, True) <= room else SMALLEST_TEXT
    label = None
    if text_width(name, size, True) <= room:
        label = Label(
            middle,
            slab
            + max(2.0, least - size - 2.5 - (notch_points(view, scales)[1] if piece.notches_at_mm else 0)),
            name,
            size,
            "middle",
            True,
        )
    elif text_width(name, SMALLEST_TEXT, True) <= least - 3 and room >= SMALLEST_TEXT - 1:
        label = Label(middle + 3, slab + least / 2, name, SMALLEST_TEXT, "middle", True, turned=True)
    if label is not None:
        drawing.add(_halo(label), label)
    nominal = piece.level in index.forecast_levels
    cut = f"nominal {width_words}" if nominal else f"cut {width_words}"
    with_bracket = f"{cut} · {bracket}" if bracket else cut
    for words, size in (
        (with_bracket, SMALLEST_TEXT),
        (cut, SMALLEST_TEXT),
        (f"({width_words})" if nominal else width_words, SMALLEST_TEXT),
    ):
        if text_width(words, size, True) <= room + 1:
            drawing.add(Label(middle, slab - 16, words, size, "middle", True))
            break


def _halo(label: Label) -> Polygon:
    left, bottom, right, top = label_box(label)
    return rectangle(left - 1, bottom - 1.2, right - left + 2, top - bottom + 2.4, "halo")


def write_joints(drawing: Drawing, positions: Sequence[int], x_of: Along) -> None:
    """Running dimensions from the run's start under the joints, on a second line where they would touch."""
    free = [-100.0, -100.0]
    for at in positions:
        x, words = x_of(at), f"{at}"
        half = text_width(words, SMALLEST_TEXT) / 2
        line = 0 if x - half > free[0] + 3 else 1
        drawing.add(Line(x, 38, x, 23 - 10 * line, "dimension"))
        if x - half > free[line] + 3:
            drawing.add(Label(x, 14 - 10 * line + 1, words, SMALLEST_TEXT, "middle"))
            free[line] = x + half


def write_readings(
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
            half = max(1.0, notch_points(view, scales)[0] - 0.5)
            drawing.add(rectangle(x_of(mullion) - half, y, 2 * half, 7, "mullion"))
    free = [-100.0, -100.0]
    for gap in view.gaps:
        if not start <= gap.at_mm <= end:
            continue
        x = x_of(gap.at_mm)
        words = f"{gap.gap_mm}" if gap.basis == "measured" else f"({gap.gap_mm})"
        half = text_width(words, SMALLEST_TEXT) / 2
        y = slab + gap.gap_mm * scales.y
        line = 0 if x - half > free[0] + 3 else 1
        if line >= lines:
            continue
        drawing.add(Line(x, y, x, top + 12 + 10 * line, "dimension"))
        if x - half > free[line] + 3:
            drawing.add(Label(x, top + 14 + 10 * line, words, SMALLEST_TEXT, "middle"))
            free[line] = x + half
