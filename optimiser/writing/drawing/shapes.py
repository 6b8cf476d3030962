"""Shapes that PDF and SVG draw alike: a drawing is a short list of polygons, lines, discs and labels.

Coordinates are points (1/72 inch) from the lower left corner; they are places on paper, not lengths of the
trade, so floats are in order here. Styles are greys, line weights and hatching, never colour: crews print in
black and white.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal, NamedTuple

POINTS_PER_MM = 72 / 25.4
SMALLEST_TEXT = 9.0  # points; smaller print cannot be read on site
FIGURES = 12.0  # points: figures that are read at arm's length

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""A rectangle: left, bottom, right, top."""
Anchor = Literal["start", "middle", "end"]


class Style(NamedTuple):
    """How a shape is drawn: greys from 0 (black) to 1 (white), None for none; widths and dashes in points."""

    fill: float | None
    stroke: float | None
    width: float = 0.5
    dash: tuple[float, ...] = ()


STYLES: dict[str, Style] = {
    "stock": Style(None, 0.0, 1.4),
    "piece": Style(1.0, 0.0, 0.9),
    "waiting": Style(0.88, 0.0, 0.9),
    "remainder": Style(0.8, 0.0, 1.1),
    "keep": Style(0.9, 0.0, 0.7, (4, 2)),
    "scrap": Style(1.0, 0.45, 0.4),
    "hatch": Style(None, 0.55, 0.35),
    "slab": Style(0.85, None),
    "edge": Style(None, 0.0, 1.4),
    "facade": Style(None, 0.0, 0.9),
    "mullion": Style(0.45, 0.0, 0.6),
    "notch": Style(1.0, 0.0, 0.8),
    "joint": Style(None, 0.0, 1.6),
    "bracket": Style(None, 0.0, 1.1),
    "anchor": Style(0.0, 0.0, 0.4),
    "not-planned": Style(1.0, 0.0, 0.9, (2, 2)),
    "dimension": Style(None, 0.0, 0.5),
    "rule": Style(None, 0.6, 0.4),
    "heavy-rule": Style(None, 0.0, 1.2),
    "band": Style(0.92, None),
    "halo": Style(1.0, None),
    "number": Style(1.0, 0.0, 0.8),
    "arrow": Style(0.0, 0.0, 0.8),
    "box": Style(None, 0.0, 0.6),
    "alarm": Style(0.0, 0.0, 0.6),
}


class Polygon(NamedTuple):
    """A closed, filled outline."""

    points: tuple[Point, ...]
    style: str


class Line(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    style: str


class Disc(NamedTuple):
    """A circle about (x, y)."""

    x: float
    y: float
    radius: float
    style: str


class Label(NamedTuple):
    """One line of text whose baseline is at y. `turned`: it reads upwards, its baseline then at x."""

    x: float
    y: float
    text: str
    size: float = 8.0
    anchor: Anchor = "start"
    bold: bool = False
    turned: bool = False
    grey: float = 0.0


class Modules(NamedTuple):
    """A QR code: `rows` of dark (True) and light modules, its lower left corner at (x, y), `side` points."""

    x: float
    y: float
    side: float
    rows: tuple[bytes, ...]


class Group(NamedTuple):
    """Shapes that lie `x`, `y` away from where they say: a drawing placed on a page."""

    x: float
    y: float
    shapes: Sequence[Shape]


Shape = Polygon | Line | Disc | Label | Modules | Group


@dataclass(slots=True)
class Drawing:
    """A picture of `width` by `height` points, with words for those who cannot see it."""

    width: float
    height: float
    title: str = ""
    description: str = ""
    shapes: list[Shape] = field(default_factory=list)

    def add(self, *shapes: Shape) -> None:
        """Draw on top of what is there."""
        self.shapes.extend(shapes)

    def paste(self, other: Drawing, x: float, y: float) -> None:
        """Draw another drawing with its lower left corner at (x, y)."""
        self.shapes.append(Group(x, y, other.shapes))


def labels_of(shapes: Iterable[Shape], dx: float = 0.0, dy: float = 0.0) -> Iterator[Label]:
    """All words, those in groups too, where they come to lie."""
    for shape in shapes:
        if isinstance(shape, Group):
            yield from labels_of(shape.shapes, dx + shape.x, dy + shape.y)
        elif isinstance(shape, Label):
            yield shape._replace(x=shape.x + dx, y=shape.y + dy)


def rectangle(x: float, y: float, width: float, height: float, style: str) -> Polygon:
    """An upright rectangle with its lower left corner at (x, y)."""
    return Polygon(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), style)


def hatching(points: Sequence[Point], spacing: float = 4.0, style: str = "hatch") -> list[Line]:
    """Lines at 45 degrees within a convex outline, `spacing` points apart; they meet from shape to shape."""
    offsets = [x + y for x, y in points]
    first, last = min(offsets), max(offsets)
    lines: list[Line] = []
    step = int(first // spacing) + 1
    while step * spacing < last:
        level = step * spacing
        ends: list[Point] = []
        for (x1, y1), (x2, y2) in zip(points, (*points[1:], points[0]), strict=True):
            a, b = x1 + y1 - level, x2 + y2 - level
            if (a < 0) != (b < 0):
                share = a / (a - b)
                ends.append((x1 + share * (x2 - x1), y1 + share * (y2 - y1)))
        if len(ends) == 2:
            lines.append(Line(*ends[0], *ends[1], style))
        step += 1
    return lines


# Advance widths of the letters ' ' to '~' in thousandths of the size: measured from the Vera faces that
# reportlab ships (the browser's sans-serif is as wide or narrower).
_PLAIN = (
    *(317, 400, 459, 837, 636, 950, 779, 274, 390, 390, 500, 837, 317, 360, 317, 336, 636, 636, 636, 636),
    *(636, 636, 636, 636, 636, 636, 336, 336, 837, 837, 837, 530, 1000, 684, 686, 698, 770, 631, 575, 774),
    *(751, 294, 294, 655, 557, 862, 748, 787, 603, 787, 694, 634, 610, 731, 684, 988, 685, 610, 685, 390),
    *(336, 390, 837, 500, 500, 612, 634, 549, 634, 615, 352, 634, 633, 277, 277, 579, 277, 974, 633, 611),
    *(634, 634, 411, 520, 392, 633, 591, 817, 591, 591, 524, 636, 336, 636, 837),
)
_BOLD = (
    *(348, 456, 520, 837, 695, 1001, 872, 306, 457, 457, 522, 837, 379, 415, 379, 365, 695, 695, 695, 695),
    *(695, 695, 695, 695, 695, 695, 399, 399, 837, 837, 837, 580, 1000, 773, 762, 733, 830, 683, 683, 820),
    *(836, 372, 372, 774, 637, 995, 836, 850, 732, 850, 770, 720, 682, 812, 773, 1103, 770, 724, 725, 457),
    *(365, 457, 837, 500, 500, 674, 715, 592, 715, 678, 435, 715, 711, 342, 342, 665, 342, 1041, 711, 687),
    *(715, 715, 493, 595, 478, 711, 651, 923, 645, 651, 582, 711, 365, 711, 837),
)
_OTHER_LETTER, _WIDE_LETTER = 850, 1030


@lru_cache(maxsize=50_000)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """How wide a line of text is, in points; letters outside ASCII are taken a little too wide."""
    widths = _BOLD if bold else _PLAIN
    total = 0
    for letter in text:
        code = ord(letter) - 32
        if 0 <= code < 95:
            total += widths[code]
        elif ord(letter) < 0x250 or letter in "–·•…‹›":
            total += _OTHER_LETTER
        else:
            total += _WIDE_LETTER
    return total * size / 1000


def shortened(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text, or as much of its beginning and end as fits `room` points with '...' between.

    The ends are kept because ids differ at their ends.
    """
    if text_width(text, size, bold) <= room:
        return text
    for kept in range(len(text) - 1, 1, -1):
        head = (kept + 1) // 2
        tried = f"{text[:head]}...{text[len(text) - (kept - head) :]}"
        if text_width(tried, size, bold) <= room:
            return tried
    return "..." if text_width("...", size, bold) <= room else ""


def wrapped(text: str, room: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines of at most `room` points, broken at spaces, and within a word that is too long."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            tried = f"{line} {word}" if line else word
            if text_width(tried, size, bold) <= room:
                line = tried
                continue
            if line:
                lines.append(line)
            line = word
            while text_width(line, size, bold) > room and len(line) > 1:
                kept = len(line) - 1
                while kept > 1 and text_width(line[:kept], size, bold) > room:
                    kept -= 1
                lines.append(line[:kept])
                line = line[kept:]
        lines.append(line)
    return lines


def without_control_characters(text: str) -> str:
    """The text with every control, surrogate and unassigned character as a space: safe in XML and in print."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        " " if unicodedata.category(letter) in ("Cc", "Cs", "Cn", "Co", "Zl", "Zp") else letter
        for letter in unicodedata.normalize("NFC", text)
    )


def label_box(label: Label) -> Box:
    """The rectangle that a label covers."""
    width = text_width(label.text, label.size, label.bold)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[label.anchor]
    if label.turned:
        return (label.x - 0.74 * label.size, label.y + start, label.x, label.y + start + width)
    return (label.x + start, label.y, label.x + start + width, label.y + 0.74 * label.size)


def boxes_meet(one: Box, other: Box) -> bool:
    """Whether two rectangles cover a place together."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def overlapping_labels(shapes: Iterable[Shape]) -> list[tuple[str, str]]:
    """Pairs of labels that cover one another: what a legible drawing has none of."""
    boxes = sorted((label_box(label), label.text) for label in labels_of(shapes))
    found = []
    for place, (box, text) in enumerate(boxes):
        for other, other_text in boxes[place + 1 :]:
            if other[0] >= box[2]:
                break
            if box[1] < other[3] and other[1] < box[3]:
                found.append((text, other_text))
    return found


def spread_apart(wanted: Sequence[float], spacing: Sequence[float], highest: float) -> list[float]:
    """Places for labels in rising order, as near to `wanted` as keeps each `spacing[i]` above the one before it.

    They are pushed up first, then down from `highest` where they have run past it.
    """
    places: list[float] = []
    for place, apart in zip(wanted, spacing, strict=True):
        places.append(place if not places else max(place, places[-1] + apart))
    limit = highest
    for number in range(len(places) - 1, -1, -1):
        if places[number] <= limit:
            break
        places[number] = limit
        limit -= spacing[number]
    return places
