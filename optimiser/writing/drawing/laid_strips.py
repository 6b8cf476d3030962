"""Strips laid on a board from its datum edge: where each piece lies, what remains beside it, the cuts that free it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optimiser.boards.delivery_order import Slot
from optimiser.cutting.problem import CutPiece
from optimiser.model.planned_pieces import Notch
from optimiser.writing.drawing.placed_board import Corner, Cut, PlacedPiece, Remainder, StripCuts
from optimiser.writing.drawing.plan_index import PlanIndex


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


@dataclass(frozen=True, slots=True)
class Row:
    """A strip to be drawn: what is cut of it, and where its pieces stand among those of the whole strip.

    `end` is what becomes of its far end, `halves` what waits beside the pieces at these places of `slots`.
    """

    strip: int
    width_mm: int
    slots: tuple[Slot, ...]
    numbers: tuple[int, ...]
    single: bool
    end: Callable[[int, int], Rest]
    halves: Mapping[int, Rest] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Rest:
    """What becomes of a rectangle beside the pieces: a left-over to keep, a remainder with its name, or scrap."""

    keep: bool = False
    name: str = ""
    waits_for: str = ""
    size: str = ""


SCRAP = Rest()


def in_order(cuts: Iterable[Cut]) -> tuple[Cut, ...]:
    """The cuts with the numbers of their order."""
    return tuple(replace(cut, number=number) for number, cut in enumerate(cuts, start=1))


def lay_rows(
    index: PlanIndex,
    kerf: int,
    length: int,
    width: int,
    rows: Sequence[Row],
    edge: Callable[[int, int], Rest],
) -> tuple[tuple[StripCuts, ...], tuple[Remainder, ...], tuple[Cut, ...]]:
    """Rows laid on a sheet from its datum edge: the strips, what remains, and the cuts (rips, cross-cuts, slants,
    trims). `kerf` is what the saw takes, `edge` says what becomes of the rest of the width. Lengths in mm."""
    strips: list[StripCuts] = []
    remainders: list[Remainder] = []
    rips: list[Cut] = []
    crosses: list[Cut] = []
    slants: list[Cut] = []
    trims: list[Cut] = []

    def remains(corners: tuple[Corner, ...], rest_length: int, rest_width: int, rest: Rest) -> None:
        if rest_length > 0 and rest_width > 0:
            named = rest.name, rest.waits_for, rest.size
            remainders.append(Remainder(corners, rest_length, rest_width, rest.keep, *named))

    bottom = 0
    for row in rows:
        letter = strip_letter(row.strip)
        top = bottom + row.width_mm
        if top < width:
            rips.append(Cut(0, "rip", letter, top, top))
        placed: list[PlacedPiece] = []
        left = 0
        for number, slot in enumerate(row.slots):
            slot_length = max(piece.length_mm for piece in slot)
            half = row.halves.get(number)
            for second, piece in enumerate(slot):
                place = letter if row.single else f"{letter}{row.numbers[len(placed)]}"
                outline, cut, sliver = _outline(index, piece, place, left, bottom, row.width_mm, second > 0)
                placed.append(outline)
                if cut is not None and not (second and slants and _one_cut(slants[-1], cut, kerf)):
                    (slants if cut.kind == "slant" else trims).append(cut)
                if len(slot) == 1 and sliver is not None:
                    narrowest = min(outline.width_left_mm, outline.width_right_mm)
                    if half is not None:
                        (x0, y0), (x1, y1), *far = sliver
                        sliver = ((x0, y0 + kerf), (x1, y1 + kerf), *far)
                    remains(sliver, piece.length_mm, row.width_mm - narrowest, half or SCRAP)
            if len(slot) > 1:
                sliver, between = _between(placed[-2], placed[-1])
                remains(sliver, slot_length, between - kerf, SCRAP)
            left += slot_length
            if left < length:
                crosses.append(Cut(0, "cross-cut", letter, left, left))
            left += kerf
        strips.append(StripCuts(letter, bottom, top, tuple(placed)))
        if left < length:
            rest = row.end(length - left, row.width_mm)
            remains(_corners(left, bottom, length, top), length - left, row.width_mm, rest)
        bottom = top + kerf
    if bottom < width:
        rest = edge(length, width - bottom)
        remains(_corners(0, bottom, length, width), length, width - bottom, rest)
    return tuple(strips), tuple(remainders), in_order((*rips, *crosses, *slants, *trims))


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
        notches=planned.notches or tuple(Notch(at_mm=at) for at in planned.notches_at_mm) if planned else (),
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
