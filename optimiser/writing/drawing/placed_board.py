"""A board as it is cut, in millimetres: the pieces in their places, what remains, the cuts in order.

The datum is one corner of the board: lengths run from the datum end (left), widths from the datum edge
(bottom). Both long edges of a board lie along the slab edge, so the fibres run across the width.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optimiser.model.planned_pieces import Notch
from optimiser.model.remainder import RemainderKind

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
    def cross_cuts(self) -> dict[str, tuple[int, ...]]:
        """Of each strip with cross-cuts where they are, in mm from the datum end, by the strip's letter."""
        found: dict[str, tuple[int, ...]] = {}
        for cut in self.cuts:
            if cut.kind == "cross-cut":
                found[cut.strip] = (*found.get(cut.strip, ()), cut.at_mm)
        return found

    @property
    def stays(self) -> tuple[Remainder, ...]:
        """What goes on the rack and waits for its delivery, in the order of its names."""
        named = (rest for rest in self.remainders if rest.name)
        return tuple(sorted(named, key=lambda rest: int(rest.name.rpartition("-R")[2])))

    @property
    def pieces(self) -> tuple[PlacedPiece, ...]:
        """All pieces, strip by strip."""
        return tuple(piece for strip in self.strips for piece in strip.pieces)


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
