"""A cutting layout to scale: pieces in their strips, running dimensions from one datum, numbered cuts.

Pure geometry: from `BoardCuts` (millimetres) to a `Drawing` (points on paper) that PDF and SVG draw alike.
"""

from __future__ import annotations

from optimiser.writing.drawing.board_dimensions import (
    ABOVE,
    TEXT,
    cross_cut_dimensions,
    cross_cut_words,
    length_dimension,
    rip_dimensions,
)
from optimiser.writing.drawing.not_ready import add_not_ready
from optimiser.writing.drawing.placed_board import BoardCuts, PlacedPiece, Remainder, StripCuts
from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Drawing,
    Label,
    Polygon,
    boxes_meet,
    hatching,
    label_box,
    rectangle,
    shortened,
    text_width,
)

_LEFT = 66.0  # room for the rip dimensions and their cut numbers
_BELOW = 26.0  # room for the length dimension


def board_drawing_size(cuts: BoardCuts, width: float, height: float) -> tuple[float, float]:
    """The size that the drawing takes of the room it is given, in points."""
    scale = _scale(cuts, width, height)
    return (
        _LEFT + cuts.length_mm * scale + _right(cuts),
        _BELOW + cuts.width_mm * scale + ABOVE,
    )


def board_drawing(cuts: BoardCuts, width: float, height: float, ids: bool = True) -> Drawing:
    """The layout drawn as large as `width` by `height` points allow.

    `ids`: piece ids and notches stand in the pieces; without them only the places (A1, A2, ...), for a pattern
    that is cut from several boards.
    """
    scale = _scale(cuts, width, height)
    drawing = Drawing(*board_drawing_size(cuts, width, height))
    left, bottom = _LEFT, _BELOW

    def at(point: tuple[int, int]) -> tuple[float, float]:
        return left + point[0] * scale, bottom + point[1] * scale

    drawing.add(Polygon(tuple(at(corner) for corner in cuts.outline), "scrap"))
    for remainder in cuts.remainders:
        outline = tuple(at(corner) for corner in remainder.corners)
        kept = remainder.keep or remainder.name
        drawing.add(Polygon(outline, "remainder" if remainder.name else "keep" if kept else "scrap"))
        if not kept:
            drawing.add(*hatching(outline))
    for strip in cuts.strips:
        for piece in strip.pieces:
            drawing.add(
                Polygon(tuple(at(corner) for corner in piece.corners), "waiting" if piece.waits else "piece")
            )
            if ids:
                _notch_marks(drawing, piece, strip, scale, left, bottom)
    taken: list[Label] = []
    for strip in cuts.strips:
        for piece in strip.pieces:
            taken.extend(_piece_words(drawing, piece, strip, scale, left, bottom, ids))
    for remainder in cuts.remainders:
        _remainder_words(drawing, remainder, scale, left, bottom, taken, ids)
    drawing.add(Polygon(tuple(at(corner) for corner in cuts.outline), "stock"))
    rip_dimensions(drawing, cuts, scale, left, bottom)
    cross_cut_dimensions(drawing, cuts, scale, left, bottom)
    length_dimension(drawing, cuts, scale, left, bottom)
    if not cuts.ready:
        add_not_ready(drawing, left, bottom + cuts.width_mm * scale, cuts.length_mm * scale)
    return drawing


def _right(cuts: BoardCuts) -> float:
    """Room at the right for each strip's cross-cuts and the fibre arrow."""
    longest = max((text_width(words, TEXT) for words in cross_cut_words(cuts).values()), default=0.0)
    return max(24.0, longest + 10) + 20


def _scale(cuts: BoardCuts, width: float, height: float) -> float:
    return max(
        0.01,
        min(
            (width - _LEFT - _right(cuts)) / cuts.length_mm,
            (height - _BELOW - ABOVE) / cuts.width_mm,
        ),
    )


def _notch_marks(
    drawing: Drawing, piece: PlacedPiece, strip: StripCuts, scale: float, left: float, bottom: float
) -> None:
    """Where a piece is notched around a mullion, at its facade edge: to scale, or a small V where the mullion's size
    was not measured."""
    (x0, low_left), (x1, low_right), (_, high_right), (_, high_left) = piece.corners
    sizes = [*reversed(piece.notches)] if piece.turned else piece.notches
    for notch, size in zip(piece.notches_mm, sizes, strict=True):
        share = (notch - x0) / max(1, x1 - x0)
        inside = min(max(share, 0.0), 1.0)
        x = left + (x0 + inside * (x1 - x0)) * scale
        if piece.turned:  # its facade edge lies towards the datum
            y, into = bottom + (low_left + inside * (low_right - low_left)) * scale, 1.0
        else:
            y, into = bottom + (high_left + inside * (high_right - high_left)) * scale, -1.0
        depth = min(3.5, (strip.top_mm - strip.bottom_mm) * scale / 4)
        if size.width_mm is not None and size.depth_mm is not None:
            half, deep = size.width_mm * scale / 2, into * size.depth_mm * scale
            outline = ((x - half, y), (x - half, y + deep), (x + half, y + deep), (x + half, y))
            drawing.add(Polygon(outline, "notch"))
            continue
        drawing.add(Polygon(((x - 3, y), (x, y + into * depth), (x + 3, y)), "anchor"))


def _piece_words(
    drawing: Drawing,
    piece: PlacedPiece,
    strip: StripCuts,
    scale: float,
    left: float,
    bottom: float,
    ids: bool,
) -> list[Label]:
    """The piece's name, and its size where there is room; never more than its outline holds."""
    (x0, low_left), (x1, low_right), (_, high_right), (_, high_left) = piece.corners
    low, high = max(low_left, low_right), min(high_left, high_right)
    middle = left + (x0 + x1) / 2 * scale
    room_x, room_y = (x1 - x0) * scale - 5, (high - low) * scale
    name = f"{piece.place} · {piece.name}" if ids else piece.place
    size_words = _size_words(piece, strip)
    size = min(12.0, max(SMALLEST_TEXT, room_y * 0.55))
    if room_y < 9.6:
        return []  # the list of cuts names it; print smaller than this cannot be read
    if room_x < 30 and room_y > 30:
        if (x1 - x0) * scale < SMALLEST_TEXT:
            return []  # its words would stand in the piece beside it
        return _upright_words(drawing, piece, middle, bottom + (low + high) / 2 * scale, room_y, ids)
    while size > SMALLEST_TEXT and text_width(name, size, True) > room_x:
        size = max(SMALLEST_TEXT, size - 0.5)
    if text_width(name, size, True) > room_x:
        short = shortened(piece.name if ids else piece.place, room_x, size, True)
        name = short if len(short) > 6 or not ids else piece.place
    centre = bottom + (low + high) / 2 * scale
    notched = max((notch.depth_mm or 0 for notch in piece.notches if notch.width_mm), default=0) * scale
    if room_y - notched >= size:  # the words stand beside the notches, not in them
        room_y -= notched
        centre += notched / 2 if piece.turned else -notched / 2
    two_lines = room_y >= size + TEXT + 8 and text_width(size_words, TEXT) <= room_x
    one_line = f"{name}   {size_words}"
    labels: list[Label] = []
    if two_lines:
        centre -= 1.5 if piece.notches_mm and not piece.turned and not notched else 0.0
        labels.append(Label(middle, centre + 1.5, name, size, "middle", True))
        labels.append(Label(middle, centre - TEXT - 1.0, size_words, TEXT, "middle"))
    elif text_width(one_line, size, True) <= room_x:
        gap = text_width(name + "   ", size, True)
        start = middle - (gap + text_width(size_words, TEXT)) / 2
        labels.append(Label(start, centre - size * 0.36, name, size, "start", True))
        labels.append(Label(start + gap, centre - size * 0.36, size_words, TEXT))
    elif text_width(name, size, True) <= room_x:
        labels.append(Label(middle, centre - size * 0.36, name, size, "middle", True))
    drawing.add(*labels)
    return labels


def _size_words(piece: PlacedPiece, strip: StripCuts) -> str:
    """A piece's length and width as they are said on the drawing."""
    if piece.tapered:
        return f"{piece.length_mm} x {piece.width_left_mm} to {piece.width_right_mm}, tapered"
    trimmed = piece.width_left_mm < strip.top_mm - strip.bottom_mm
    return f"{piece.length_mm} x {piece.width_left_mm}" + (", trimmed" if trimmed else "")


def _upright_words(
    drawing: Drawing, piece: PlacedPiece, x: float, y: float, room: float, ids: bool
) -> list[Label]:
    """The name of a short piece in a wide strip, reading upwards."""
    name = f"{piece.place} · {piece.name}" if ids else piece.place
    name = name if text_width(name, SMALLEST_TEXT, True) <= room - 4 else piece.place
    labels = [Label(x + 3, y, name, SMALLEST_TEXT, "middle", True, turned=True)]
    drawing.add(*labels)
    return labels


def _remainder_words(
    drawing: Drawing,
    remainder: Remainder,
    scale: float,
    left: float,
    bottom: float,
    taken: list[Label],
    ids: bool,
) -> None:
    """What stays and waits for which level, 'KEEP 1200 x 175' or 'scrap', where it fits without covering words."""
    xs = [corner[0] for corner in remainder.corners]
    ys = [corner[1] for corner in remainder.corners]
    room_x, room_y = (max(xs) - min(xs)) * scale - 4, (max(ys) - min(ys)) * scale
    x, y = left + sum(xs) / len(xs) * scale, bottom + sum(ys) / len(ys) * scale
    size_words = f"{remainder.length_mm} x {remainder.width_mm}"
    candidates = (
        _waiting_words(remainder, ids)
        if remainder.name
        else [f"KEEP {size_words}", f"KEEP {remainder.width_mm}", "KEEP"]
        if remainder.keep
        else [f"scrap {size_words}", "scrap"]
    )
    bold = remainder.keep or bool(remainder.name)
    size = 10.0 if bold and room_y > 12 else TEXT
    for words in candidates:
        wide = text_width(words, size, bold)
        label = None
        if wide <= room_x and room_y >= size + 1:
            label = Label(x, y - size * 0.36, words, size, "middle", bold)
        elif wide <= room_y - 4 and room_x + 4 >= size + 2:
            label = Label(x + size * 0.36, y, words, size, "middle", bold, turned=True)
        if label is None:
            continue
        box = label_box(label)
        if any(boxes_meet(box, label_box(other)) for other in taken):
            return
        if not bold:
            drawing.add(rectangle(box[0] - 2, box[1] - 2, box[2] - box[0] + 4, box[3] - box[1] + 4, "halo"))
        drawing.add(label)
        taken.append(label)
        return


def _waiting_words(remainder: Remainder, ids: bool) -> list[str]:
    """What is said on a part that stays: its name where there is one board only, its size, what it waits for."""
    waits = f"waits for {remainder.waits_for}"
    if not ids:
        return [f"STAYS {remainder.size} · {waits}", f"STAYS · {waits}", remainder.waits_for, "STAYS"]
    return [
        f"{remainder.name} STAYS {remainder.size} · {waits}",
        f"{remainder.name} · {remainder.size} · {waits}",
        f"{remainder.name} · {waits}",
        remainder.name,
    ]
