"""A board as it is cut on the bench: its strips one above the other, with figures that are read at arm's length.

Lengths are to scale; heights only rise with the width of a strip, so that the narrowest has room for its words. The
crew cuts by the figures. The web's drawing, to one scale both ways, is `boards.board_drawing`.
"""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.model.planned_pieces import notches_in_words
from optimiser.writing.drawing.not_ready import BAND, add_not_ready
from optimiser.writing.drawing.placed_board import BoardCuts, Corner, PlacedPiece, Remainder
from optimiser.writing.drawing.shapes import (
    FIGURES,
    Drawing,
    Label,
    Line,
    Polygon,
    Shape,
    boxes_meet,
    hatching,
    label_box,
    rectangle,
    text_width,
)

_LEFT = 38.0  # room for the marks of the rips
_MOST_RIGHT = 92.0  # room for the marks of the cross-cuts
_TEXT = 10.0
_LOWEST = 15.2  # a strip's least height in points, so that FIGURES fit
_TALLEST_REST = 34.0


@dataclass(frozen=True, slots=True)
class BenchDrawing:
    """A drawing, and what found no room in it: it must be said beside it."""

    drawing: Drawing
    unnamed: tuple[PlacedPiece, ...]  # pieces whose id is not on it
    unnotched: tuple[PlacedPiece, ...]  # pieces whose notches are not on it
    unmarked: tuple[str, ...]  # strips whose cross-cuts are not on it
    unsaid: tuple[Remainder, ...]  # parts that stay or are kept, not named on it


def bench_height(cuts: BoardCuts) -> float:
    """How high the drawing will be, in points."""
    return _Heights.of(cuts).total + 7 + (0 if cuts.ready else BAND)


def bench_drawing(cuts: BoardCuts, width: float, ids: bool = True) -> BenchDrawing:
    """What is cut, `width` points wide: the marks of the rips up its left side from the fresh edge, those of each
    strip's cross-cuts at its right, the pieces by place and, with `ids`, by id, size and notches."""
    heights = _Heights.of(cuts)
    marks = {strip: ", ".join(map(str, places)) for strip, places in cuts.cross_cuts.items()}
    wide = [text_width(words, FIGURES) for words in marks.values()]
    right = min(_MOST_RIGHT, max((words for words in wide if words <= _MOST_RIGHT - 8), default=0.0) + 8)
    right = right if marks else 4.0
    scale = (width - _LEFT - right) / cuts.length_mm
    drawing = Drawing(width, bench_height(cuts))
    bottom = 5.0

    def at(corner: Corner) -> tuple[float, float]:
        return _LEFT + corner[0] * scale, bottom + heights.at(corner[1])

    drawing.add(Polygon(tuple(at(corner) for corner in cuts.outline), "scrap"))
    for rest in cuts.remainders:
        outline = tuple(at(corner) for corner in rest.corners)
        style = "remainder" if rest.name else "keep" if rest.keep else "scrap"
        drawing.add(Polygon(outline, style))
        if style == "scrap":
            drawing.add(*hatching(outline))
    for piece in cuts.pieces:
        drawing.add(Polygon(tuple(at(corner) for corner in piece.corners), "piece"))
    unnamed, unnotched = [], []
    taken: list[Label] = []
    for strip in cuts.strips:
        for piece in strip.pieces:
            boxes = [at(corner) for corner in piece.corners]
            said = _piece_words(drawing, piece, cuts, boxes, ids, taken)
            if ids and not said.named:
                unnamed.append(piece)
            if ids and piece.notches and not said.notched:
                unnotched.append(piece)
    unsaid = [
        rest
        for rest in cuts.remainders
        if not _rest_words(drawing, rest, [at(corner) for corner in rest.corners], ids, taken)
        and (rest.name or rest.keep)
    ]
    drawing.add(Polygon(tuple(at(corner) for corner in cuts.outline), "stock"))
    _rip_marks(drawing, cuts, heights, bottom)
    unmarked = []
    for strip in cuts.strips:
        if words := marks.get(strip.letter):
            middle = bottom + (heights.at(strip.bottom_mm) + heights.at(strip.top_mm)) / 2
            if text_width(words, FIGURES) <= right - 7:
                drawing.add(Label(width - right + 6, middle - FIGURES * 0.36, words, FIGURES))
            else:
                unmarked.append(strip.letter)
    if not cuts.ready:
        add_not_ready(drawing, _LEFT, drawing.height - BAND, width - _LEFT - right)
    return BenchDrawing(drawing, tuple(unnamed), tuple(unnotched), tuple(unmarked), tuple(unsaid))


@dataclass(frozen=True, slots=True)
class _Heights:
    """Heights in points of the places across a board, in mm, straight between these."""

    places: tuple[tuple[int, float], ...]

    @classmethod
    def of(cls, cuts: BoardCuts) -> _Heights:
        places, top, height = [(0, 0.0)], 0, 0.0
        for strip in cuts.strips:
            if strip.bottom_mm > top:  # what the saw takes
                places.append((strip.bottom_mm, height + 0.8))
                height += 0.8
            width = strip.top_mm - strip.bottom_mm
            pair = any(piece.turned for piece in strip.pieces)
            height += (2.3 if pair else 1.0) * max(_LOWEST, 11.8 + 0.028 * (width / 2 if pair else width))
            top = strip.top_mm
            places.append((top, height))
        rest = cuts.width_mm - top
        if rest > 0:
            named = any(part.name or part.keep for part in cuts.remainders if part.corners[0][1] >= top)
            height += min(_TALLEST_REST, (13.0 if named else 3.0) + 0.05 * rest)
            places.append((cuts.width_mm, height))
        return cls(tuple(places))

    @property
    def total(self) -> float:
        return self.places[-1][1]

    def at(self, across_mm: int) -> float:
        (low, start), *others = self.places
        for high, end in others:
            if across_mm <= high:
                return start + (across_mm - low) / max(1, high - low) * (end - start)
            low, start = high, end
        return start


def _rip_marks(drawing: Drawing, cuts: BoardCuts, heights: _Heights, bottom: float) -> None:
    """The running dimensions of the rips from the fresh edge, which is 0."""
    drawing.add(Line(_LEFT - 5, bottom, _LEFT, bottom, "edge"))
    drawing.add(Label(_LEFT - 7, bottom - 3, "0", _TEXT, "end"))
    free = bottom + 8
    for cut in cuts.cuts:
        if cut.kind != "rip":
            continue
        y = bottom + heights.at(cut.at_mm)
        low = max(free, y - FIGURES * 0.36)
        drawing.add(Line(_LEFT - 5, y, _LEFT, y, "edge"))
        drawing.add(Label(_LEFT - 7, low, f"{cut.at_mm}", FIGURES, "end", True))
        free = low + FIGURES * 0.8


@dataclass(frozen=True, slots=True)
class _Said:
    named: bool
    notched: bool


def _piece_words(
    drawing: Drawing,
    piece: PlacedPiece,
    cuts: BoardCuts,
    corners: list[tuple[float, float]],
    ids: bool,
    taken: list[Label],
) -> _Said:
    """'A  L01-N-003', then where it is notched, then its size, as far as its outline holds them."""
    (left, low_left), (right, low_right), (_, high_right), (_, high_left) = corners
    low, high = max(low_left, low_right), min(high_left, high_right)
    start, end = left + 5, right - 5
    base = (low + high) / 2 - FIGURES * 0.36
    if high - low < 10 or end - start < 8:
        return _Said(False, False)
    across = f"{piece.width_left_mm} to {piece.width_right_mm}" if piece.tapered else f"{piece.width_left_mm}"
    size_words = across if piece.length_mm == cuts.length_mm else f"{piece.length_mm} x {across}"
    notches = f"notch {notches_in_words(piece.notches)}" if ids and piece.notches else ""
    name = f"{piece.place}  {piece.name}" if ids else piece.place
    with_notch = text_width(size_words, _TEXT) + text_width(notches, _TEXT) + 12
    tries = [(name, size, with_notch) for size in (FIGURES, 11.0, 10.0)] if notches else []
    tries += [(name, size, 0.0) for size in (FIGURES, 11.0, 10.0)]
    tries.append((piece.place, FIGURES, 0.0))
    shown = next(
        (
            (words, size)
            for words, size, beside in tries
            if text_width(words, size, True) + beside <= end - start
        ),
        None,
    )
    if shown is None:
        return _Said(False, False)
    words, size = shown
    label = Label(start, base, words, size, "start", True)
    drawing.add(label)
    taken.append(label)
    named = words != piece.place
    at = start + text_width(words, size, True) + 6
    if end - at >= text_width(size_words, _TEXT):
        label = Label(end, base + 0.5, size_words, _TEXT, "end")
        drawing.add(label)
        taken.append(label)
        end -= text_width(size_words, _TEXT) + 6
    notched = bool(notches) and end - at >= text_width(notches, _TEXT)
    if notched:
        label = Label(at, base + 0.5, notches, _TEXT)
        drawing.add(label)
        taken.append(label)
    return _Said(named, notched)


def _rest_words(
    drawing: Drawing, rest: Remainder, corners: list[tuple[float, float]], ids: bool, taken: list[Label]
) -> bool:
    """What becomes of a part beside the pieces, where it holds the words and they cover no others."""
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    room, high = max(xs) - min(xs) - 6, max(ys) - min(ys)
    size = f"{rest.length_mm} x {rest.width_mm}"
    if rest.name and ids:
        candidates = [f"{rest.name}  {rest.size}, for {rest.waits_for}"]
    elif rest.name:
        candidates = [f"stays, {rest.size}, for {rest.waits_for}", f"stays, for {rest.waits_for}"]
    elif rest.keep:
        candidates = [f"KEEP {size}"]
    else:
        candidates = ["scrap"]
    for words in candidates:
        for letters in (FIGURES, 11.0, 10.0, 9.0) if rest.name or rest.keep else (9.0,):
            if text_width(words, letters, True) > room or letters * 0.9 > high:
                continue
            label = Label(
                (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2 - letters * 0.36, words, letters, "middle",
                bool(rest.name or rest.keep),
            )  # fmt: skip
            box = label_box(label)
            if any(boxes_meet(box, label_box(other)) for other in taken):
                return False
            shapes: list[Shape] = [label]
            if not (rest.name or rest.keep):
                shapes.insert(
                    0, rectangle(box[0] - 2, box[1] - 1, box[2] - box[0] + 4, box[3] - box[1] + 2, "halo")
                )
            drawing.add(*shapes)
            taken.append(label)
            return True
    return False
