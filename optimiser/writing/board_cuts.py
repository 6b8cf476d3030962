"""One cutting layout in millimetres: where each piece lies on its board, each cut in order, what remains.

The datum is one corner of the board: lengths run from the datum end (left), widths from the datum edge
(bottom). Both long edges of a board lie along the slab edge, so the fibres run across the width.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optimiser.cutting.problem import CutPiece, Layout, Strip
from optimiser.writing.plan_index import PlanIndex

Corner = tuple[int, int]


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """A piece on its board. `place` is its name on the drawing (strip letter and number from the datum end)."""

    place: str
    id: str
    name: str  # the id in letters that the medium can show
    corners: tuple[Corner, ...]
    length_mm: int
    width_left_mm: int
    width_right_mm: int
    turned: bool
    notches_mm: tuple[int, ...]  # along the board, from the datum end
    notches_from_start_mm: tuple[int, ...]  # from the piece's own start
    needed_by: str  # the level it is for

    @property
    def tapered(self) -> bool:
        """Whether it narrows towards an end."""
        return self.width_left_mm != self.width_right_mm


@dataclass(frozen=True, slots=True)
class Remainder:
    """What is left beside the pieces; `keep` when it is large enough to serve again."""

    corners: tuple[Corner, ...]
    length_mm: int
    width_mm: int
    keep: bool


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut, in the order of work. `at_mm` is measured from the datum edge (rip) or datum end (cross-cut);
    a slant runs from `at_mm` at its piece's datum end to `to_mm` at its far end, within its strip."""

    number: int
    kind: Literal["rip", "cross-cut", "slant", "trim"]
    strip: str
    at_mm: int
    to_mm: int
    place: str = ""


@dataclass(frozen=True, slots=True)
class StripCuts:
    """A strip on its board: from `bottom_mm` to `top_mm` of the board's width."""

    letter: str
    bottom_mm: int
    top_mm: int
    pieces: tuple[PlacedPiece, ...]


@dataclass(frozen=True, slots=True)
class BoardCuts:
    """A whole layout: the board, its strips from the datum edge, what remains, and the cuts in order."""

    stock: str
    code: str
    offcut: bool
    level: str
    length_mm: int
    width_mm: int
    kerf_mm: int
    strips: tuple[StripCuts, ...]
    remainders: tuple[Remainder, ...]
    cuts: tuple[Cut, ...]

    @property
    def pieces(self) -> tuple[PlacedPiece, ...]:
        """All pieces, strip by strip."""
        return tuple(piece for strip in self.strips for piece in strip.pieces)


def strip_letter(number: int) -> str:
    """A, B, ... Z, AA, AB, ...: the strips from the datum edge."""
    letters = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return letters


def piece_widths(index: PlanIndex, piece: CutPiece) -> tuple[int, int]:
    """A piece's widths at its own start and end in mm; a piece that the plan does not list is straight."""
    planned = index.pieces.get(piece.id)
    if planned is None or not planned.tapered:
        return piece.width_mm, piece.width_mm
    return planned.cut_width_start_mm, planned.cut_width_end_mm


def _slots(strip: Strip) -> list[list[CutPiece]]:
    """The strip's pieces by the length they take: a head-to-tail pair lies in one slot."""
    slots: list[list[CutPiece]] = []
    for piece in strip.pieces:
        if piece.head_to_tail and slots:
            slots[-1].append(piece)
        else:
            slots.append([piece])
    return slots


def board_cuts(index: PlanIndex, layout: Layout) -> BoardCuts:
    """Where everything lies on a layout's board, and the cuts in the order in which they are made.

    First the rips from the datum edge, each strip as long as the board; then each strip's cross-cuts from the
    datum end; then the slants of tapered pieces; then what is trimmed off a piece narrower than its strip.
    """
    length, width = index.stock_size(layout)
    kerf = index.plan.project.detail.kerf_mm
    strips: list[StripCuts] = []
    remainders: list[Remainder] = []
    rips: list[Cut] = []
    crosses: list[Cut] = []
    slants: list[Cut] = []
    trims: list[Cut] = []

    def kept(rest_length: int, rest_width: int) -> bool:
        code = layout.code or layout.stock
        return (code, layout.stage, rest_length, rest_width) in index.kept_sizes

    def remains(corners: tuple[Corner, ...], rest_length: int, rest_width: int, may_keep: bool) -> None:
        if rest_length > 0 and rest_width > 0:
            keep = may_keep and kept(rest_length, rest_width)
            remainders.append(Remainder(corners, rest_length, rest_width, keep))

    bottom = 0
    for number, strip in enumerate(layout.strips):
        letter = strip_letter(number)
        top = bottom + strip.width_mm
        if top < width:
            rips.append(Cut(0, "rip", letter, top, top))
        placed: list[PlacedPiece] = []
        left = 0
        slots = _slots(strip)
        single = len(strip.pieces) == 1
        for slot in slots:
            slot_length = max(piece.length_mm for piece in slot)
            for second, piece in enumerate(slot):
                place = letter if single else f"{letter}{len(placed) + 1}"
                outline, cut, sliver = _outline(index, piece, place, left, bottom, strip.width_mm, second > 0)
                placed.append(outline)
                if cut is not None and not (second and slants and _one_cut(slants[-1], cut, kerf)):
                    (slants if cut.kind == "slant" else trims).append(cut)
                if len(slot) == 1 and sliver is not None:
                    narrowest = min(outline.width_left_mm, outline.width_right_mm)
                    remains(sliver, piece.length_mm, strip.width_mm - narrowest, False)
            if len(slot) > 1:
                sliver, between = _between(placed[-2], placed[-1])
                remains(sliver, slot_length, between - kerf, False)
            left += slot_length
            if left < length:
                crosses.append(Cut(0, "cross-cut", letter, left, left))
            left += kerf
        strips.append(StripCuts(letter, bottom, top, tuple(placed)))
        if left < length:
            remains(_corners(left, bottom, length, top), length - left, strip.width_mm, True)
        bottom = top + kerf
    if bottom < width:
        remains(_corners(0, bottom, length, width), length, width - bottom, True)

    ordered = tuple(
        Cut(number, cut.kind, cut.strip, cut.at_mm, cut.to_mm, cut.place)
        for number, cut in enumerate((*rips, *crosses, *slants, *trims), start=1)
    )
    return BoardCuts(
        stock=index.text(layout.stock),
        code=index.text(layout.code or layout.stock),
        offcut=index.is_offcut(layout),
        level=index.text(index.level_of(layout)),
        length_mm=length,
        width_mm=width,
        kerf_mm=kerf,
        strips=tuple(strips),
        remainders=tuple(remainders),
        cuts=ordered,
    )


def _corners(left: int, bottom: int, right: int, top: int) -> tuple[Corner, ...]:
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def _outline(
    index: PlanIndex, piece: CutPiece, place: str, left: int, bottom: int, strip_width: int, turned: bool
) -> tuple[PlacedPiece, Cut | None, tuple[Corner, ...] | None]:
    """A piece in its strip, the slant or trim that frees it, and the sliver beside it.

    The second of a pair is turned end for end: its end lies at the left and its straight edge along the top.
    """
    start, end = piece_widths(index, piece)
    planned = index.pieces.get(piece.id)
    notches = planned.notches_at_mm if planned else ()
    right, top = left + piece.length_mm, bottom + strip_width
    if turned:
        start, end = end, start
        notches = tuple(piece.length_mm - notch for notch in reversed(notches))
        corners = ((left, top - start), (right, top - end), (right, top), (left, top))
        sliver = None
    else:
        corners = ((left, bottom), (right, bottom), (right, bottom + end), (left, bottom + start))
        sliver = ((left, bottom + start), (right, bottom + end), (right, top), (left, top))
    placed = PlacedPiece(
        place=place,
        id=piece.id,
        name=index.text(piece.id),
        corners=corners,
        length_mm=piece.length_mm,
        width_left_mm=start,
        width_right_mm=end,
        turned=turned,
        notches_mm=tuple(left + notch for notch in notches),
        notches_from_start_mm=planned.notches_at_mm if planned else (),
        needed_by=index.text(planned.level) if planned else "",
    )
    if start == end == strip_width:
        return placed, None, None
    at, to = (strip_width - start, strip_width - end) if turned else (start, end)
    return placed, Cut(0, "slant" if start != end else "trim", strip_letter_of(place), at, to, place), sliver


def strip_letter_of(place: str) -> str:
    """The strip of a place on a board: 'B2' -> 'B'."""
    return place.rstrip("0123456789")


def _one_cut(first: Cut, second: Cut, kerf: int) -> bool:
    """Whether one slant frees both pieces of a pair: their edges lie no further apart than the blade is thick."""
    return 0 <= second.at_mm - first.at_mm <= kerf and 0 <= second.to_mm - first.to_mm <= kerf


def _between(first: PlacedPiece, second: PlacedPiece) -> tuple[tuple[Corner, ...], int]:
    """The sliver between the two of a pair, and how wide it is at its wider end."""
    _, _, (right, first_right), (left, first_left) = first.corners
    (_, second_left), (_, second_right), _, _ = second.corners
    corners = ((left, first_left), (right, first_right), (right, second_right), (left, second_left))
    return corners, max(second_left - first_left, second_right - first_right)


def grouping_key(cuts: BoardCuts) -> tuple[object, ...]:
    """Equal for two layouts that are cut alike up to the ids of their pieces."""
    return (
        cuts.stock if not cuts.offcut else cuts.code,
        cuts.offcut,
        cuts.length_mm,
        cuts.width_mm,
        tuple(
            (
                strip.bottom_mm,
                strip.top_mm,
                tuple(
                    (piece.length_mm, piece.width_left_mm, piece.width_right_mm, piece.turned)
                    for piece in strip.pieces
                ),
            )
            for strip in cuts.strips
        ),
    )
