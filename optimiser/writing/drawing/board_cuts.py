"""One cutting layout in millimetres: where each piece lies on its board, each cut in order, what remains.

The datum is one corner of the board: lengths run from the datum end (left), widths from the datum edge
(bottom). Both long edges of a board lie along the slab edge, so the fibres run across the width.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from optimiser.boards.delivery_order import Slot, slots_of
from optimiser.cutting.problem import CutPiece, CuttingPattern
from optimiser.model.planned_pieces import Notch
from optimiser.model.remainder import RemainderKind
from optimiser.writing.drawing.plan_index import PlanIndex

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
    notches: tuple[Notch, ...]  # from the piece's own start
    needed_by: str  # the level it is for
    waits: bool = False  # it is cut with a later delivery than the board is opened with

    @property
    def tapered(self) -> bool:
        """Whether it narrows towards an end."""
        return self.width_left_mm != self.width_right_mm


@dataclass(frozen=True, slots=True)
class Remainder:
    """What is left beside the pieces; `keep` when it is large enough to serve again.

    One with a `name` stays on the rack for the pieces that `waits_for` needs of it, its `size` as its label has it.
    """

    corners: tuple[Corner, ...]
    length_mm: int
    width_mm: int
    keep: bool
    name: str = ""
    waits_for: str = ""
    size: str = ""


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
    """What is cut from a board or remainder: its strips from the datum edge, what remains, the cuts in order.

    `name` is the board's or the remainder's; `ready` is false where a piece rests on a nominal gap, which is never
    cut before it is measured.
    """

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
    name: str = ""
    kind: RemainderKind = "board"
    remainder: bool = False  # it is taken from the rack; a board is opened
    ready: bool = True
    ends_mm: tuple[int, int] | None = (
        None  # of half a tapered pair: its widths at the datum end and the far end
    )

    @property
    def outline(self) -> tuple[Corner, ...]:
        """The corners of what is cut."""
        left, right = self.ends_mm or (self.width_mm, self.width_mm)
        return ((0, 0), (self.length_mm, 0), (self.length_mm, right), (0, left))

    @property
    def stays(self) -> tuple[Remainder, ...]:
        """What goes on the rack and waits for its delivery, in the order of its names."""
        named = (rest for rest in self.remainders if rest.name)
        return tuple(sorted(named, key=lambda rest: int(rest.name.rpartition("-R")[2])))

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


def board_cuts(index: PlanIndex, layout: CuttingPattern) -> BoardCuts:
    """Where everything lies on a layout's whole board, and its cuts, delivery by delivery, in the order of work.

    With a delivery first the rips from the datum edge, each strip as long as the board; then each strip's
    cross-cuts from the datum end; then the slants of tapered pieces; then what is trimmed off a piece narrower
    than its strip.
    """
    length, width = index.stock_size(layout)

    def rest_of(rest_length: int, rest_width: int) -> Rest:
        code = layout.code or layout.stock
        return Rest(keep=(code, layout.stage, rest_length, rest_width) in index.kept_sizes)

    rows = [
        Row(
            number,
            strip.width_mm,
            slots_of(strip),
            tuple(range(1, len(strip.pieces) + 1)),
            len(strip.pieces) == 1,
            rest_of,
        )
        for number, strip in enumerate(layout.strips)
    ]
    strips, remainders, cuts = lay_rows(index, index.kerf_of(layout), length, width, rows, rest_of)
    opened = index.opened_with(layout)
    needed = {
        piece.place: max(index.stage_of(piece.id, opened), opened)
        for strip in strips
        for piece in strip.pieces
    }
    first = {
        strip.letter: min(needed[piece.place] for piece in strip.pieces) for strip in strips if strip.pieces
    }
    at_cross: dict[str, list[int]] = {
        strip.letter: [
            min(index.stage_of(piece.id, opened) for piece in slot)
            for slot in slots_of(layout.strips[number])
        ]
        for number, strip in enumerate(strips)
    }

    def stage_of(cut: Cut) -> int:
        if cut.kind == "rip":
            return first[cut.strip]
        if cut.kind == "cross-cut":
            return max(opened, at_cross[cut.strip].pop(0))
        return needed[cut.place]

    staged = sorted(((stage_of(cut), cut) for cut in cuts), key=lambda item: item[0])
    return BoardCuts(
        stock=index.text(layout.stock),
        code=index.text(layout.code or layout.stock),
        offcut=index.is_offcut(layout),
        level=index.text(index.level_of(layout)),
        length_mm=length,
        width_mm=width,
        kerf_mm=index.kerf_of(layout),
        strips=tuple(
            replace(strip, pieces=tuple(replace(p, waits=needed[p.place] > opened) for p in strip.pieces))
            for strip in strips
        ),
        remainders=remainders,
        cuts=in_order([cut for _, cut in staged]),
        ready=not any(index.is_forecast(piece.id) for strip in layout.strips for piece in strip.pieces),
    )


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


def grouping_key(cuts: BoardCuts) -> tuple[object, ...]:
    """Equal for two layouts that are cut alike up to the ids of their pieces."""
    return (
        cuts.stock if not cuts.offcut else cuts.code,
        cuts.offcut,
        cuts.length_mm,
        cuts.width_mm,
        cuts.remainder,
        cuts.kind,
        cuts.ready,
        tuple((rest.corners, rest.keep, rest.waits_for) for rest in cuts.remainders),
        tuple(
            (
                strip.letter,
                strip.bottom_mm,
                strip.top_mm,
                tuple(
                    (piece.place, piece.length_mm, piece.width_left_mm, piece.width_right_mm, piece.turned)
                    for piece in strip.pieces
                ),
            )
            for strip in cuts.strips
        ),
    )
