"""The dimensions around a cutting layout: rips up its left side, cross-cuts at its right, its length below.

Every one is measured from the datum corner; each cut has its number.
"""

from __future__ import annotations

from optimiser.writing.drawing.placed_board import BoardCuts
from optimiser.writing.drawing.shapes import (
    SMALLEST_TEXT,
    Disc,
    Drawing,
    Label,
    Line,
    Polygon,
    spread_apart,
    text_width,
)

ABOVE = 14.0  # room over the board for the last dimension
TEXT = SMALLEST_TEXT
_BUBBLE = 7.6
_NUMBER = SMALLEST_TEXT


def cross_cut_words(cuts: BoardCuts) -> dict[str, str]:
    """For each strip with cross-cuts, where: '450, 900'; of many the first three (the list of cuts has all)."""
    return {
        strip: ", ".join(map(str, places if len(places) <= 4 else places[:3]))
        + (", ..." if len(places) > 4 else "")
        for strip, places in cuts.cross_cuts.items()
    }


def rip_dimensions(drawing: Drawing, cuts: BoardCuts, scale: float, left: float, bottom: float) -> None:
    """Running dimensions of the rips up the left side, each with its cut's number; the datum is 0."""
    rail = left - 8
    drawing.add(Line(rail, bottom, rail, bottom + cuts.width_mm * scale, "dimension"))
    marks = [(0, 0), *((cut.at_mm, cut.number) for cut in cuts.cuts if cut.kind == "rip"), (cuts.width_mm, 0)]
    narrowest = min((strip.top_mm - strip.bottom_mm for strip in cuts.strips), default=cuts.width_mm) * scale
    radius = min(_BUBBLE, max(6.6, narrowest / 2 - 0.3))
    wanted = [bottom + at * scale for at, _ in marks]
    spacing = [2 * radius + 0.6 if number else TEXT + 2 for _, number in marks]
    highest = bottom + cuts.width_mm * scale + ABOVE - 8
    if sum(spacing[1:]) <= highest - bottom:
        places: list[float | None] = list(spread_apart(wanted, spacing, highest))
    else:  # the list of cuts has the numbers; the running dimensions stand where there is room
        marks = [(at, 0) for at, _ in marks]
        places = _where_there_is_room(wanted, TEXT + 1)
    widest = max((text_width(f"{number}", _NUMBER, True) for _, number in marks), default=0.0)
    if widest > 2 * radius - 2:
        radius = 0.0  # circles would cross their numbers
    for (at, number), y, words_y in zip(marks, wanted, places, strict=True):
        drawing.add(Line(rail - 3, y, left, y, "dimension"))
        if words_y is None:
            continue
        if words_y != y:
            drawing.add(Line(rail - 3, y, rail - 7, words_y, "dimension"))
        drawing.add(Label(rail - 8, words_y - TEXT * 0.36, f"{at}", TEXT, "end"))
        if number:
            _bubble(drawing, rail - 8 - text_width("0000", TEXT) - 9, words_y, number, radius)


def _where_there_is_room(wanted: list[float], apart: float) -> list[float | None]:
    """The places that stand `apart` from the one before them, None for the others; first and last stay."""
    places: list[float | None] = []
    last = wanted[0] - apart
    for number, place in enumerate(wanted):
        final = number == len(wanted) - 1
        if final or (place >= last + apart and (number == 0 or place <= wanted[-1] - apart)):
            places.append(place)
            last = place
        else:
            places.append(None)
    return places


def _bubble(drawing: Drawing, x: float, y: float, number: int, radius: float) -> None:
    """A cut's number in a circle; alone where the radius is 0."""
    if radius:
        drawing.add(Disc(x, y, radius, "number"))
    drawing.add(Label(x, y - 3.3, f"{number}", _NUMBER, "middle", True))


def cross_cut_dimensions(drawing: Drawing, cuts: BoardCuts, scale: float, left: float, bottom: float) -> None:
    """Each strip's running dimensions from the datum end, level with it at the right of the board."""
    right = left + cuts.length_mm * scale
    words = cross_cut_words(cuts)
    shown = [strip for strip in cuts.strips if strip.letter in words]
    middles = [bottom + (strip.bottom_mm + strip.top_mm) / 2 * scale for strip in shown]
    highest = bottom + cuts.width_mm * scale + ABOVE - 8
    apart = TEXT + 2
    if len(shown) * apart <= highest - bottom:
        places: list[float | None] = list(spread_apart(middles, [apart] * len(shown), highest))
    else:
        places = _where_there_is_room(middles, apart)
    for strip, middle, y in zip(shown, middles, places, strict=True):
        if y is not None:
            drawing.add(Line(right + 2, middle, right + 8, y, "dimension"))
            drawing.add(Label(right + 10, y - TEXT * 0.36, words[strip.letter], TEXT))
    # the fibre arrow stands clear of everything, at the far right
    x = drawing.width - 7
    low, high = bottom + 2, min(bottom + cuts.width_mm * scale - 2, bottom + 70)
    drawing.add(Line(x, low, x, high, "arrow"))
    drawing.add(Polygon(((x - 3, low + 6), (x, low), (x + 3, low + 6)), "arrow"))
    drawing.add(Polygon(((x - 3, high - 6), (x, high), (x + 3, high - 6)), "arrow"))
    if high - low > text_width("fibres", TEXT) + 4:
        drawing.add(Label(x - 4, (low + high) / 2, "fibres", TEXT, "middle", turned=True))


def length_dimension(drawing: Drawing, cuts: BoardCuts, scale: float, left: float, bottom: float) -> None:
    """The board's length along the bottom, from the datum corner."""
    right, y = left + cuts.length_mm * scale, bottom - 8
    drawing.add(Line(left, y, right, y, "dimension"))
    drawing.add(Line(left, bottom, left, y - 3, "dimension"), Line(right, bottom, right, y - 3, "dimension"))
    drawing.add(
        Label(left, y - 11, "0", TEXT, "middle"), Label(right, y - 11, f"{cuts.length_mm}", TEXT, "middle")
    )
    drawing.add(
        Polygon(((left - 5, bottom - 5), (left, bottom - 5), (left, bottom), (left - 5, bottom)), "anchor")
    )
    room = right - text_width(f"{cuts.length_mm}", TEXT) / 2 - 6 - (left + 10)
    for words in ("datum corner: measure every cut from here", "measure from this corner"):
        if text_width(words, TEXT) < room:
            drawing.add(Label(left + 10, y - 11, words, TEXT))
            break
