"""Whether a cut piece serves a place, and what is cut off it: shortened, trimmed, never extended."""

from __future__ import annotations

from typing import NamedTuple

from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_pieces import PlannedPiece


class PieceKind(NamedTuple):
    """A cut piece as the assignment sees it: alike pieces are one kind. Lengths in mm."""

    code: str
    length_mm: int
    width_start_mm: int
    width_end_mm: int

    @classmethod
    def of(cls, piece: PlannedPiece, code: str) -> PieceKind:
        """The kind of a piece cut from a board of a code."""
        return cls(code, piece.length_mm, piece.cut_width_start_mm, piece.cut_width_end_mm)


class PlaceKind(NamedTuple):
    """A place as the assignment sees it. A tapered one has its least end widths, any other one its window."""

    boards: tuple[str, ...]
    length_mm: int
    width_min_mm: int
    width_max_mm: int
    taper: tuple[int, int] | None

    @classmethod
    def of(cls, place: LaidPiece) -> PlaceKind:
        """The kind of a place."""
        taper = (place.width_start_mm, place.width_end_mm) if place.tapered else None
        return cls(place.boards, place.length_mm, place.width_min_mm, place.width_max_mm, taper)


class Rework(NamedTuple):
    """A piece's widths when fitted, whether it was trimmed for it, and the area cut off it (rounded up)."""

    width_start_mm: int
    width_end_mm: int
    trimmed: bool
    loss_mm2: int


def rework(piece: PieceKind, place: PlaceKind, trim: bool) -> Rework | None:
    """How a piece is made to serve a place, or None where it cannot.

    It must be of a board that may serve there and at least as long; a longer one is shortened at its end. Its
    width must lie in the place's window, or above it where `trim` allows a cut along the piece. A tapered place
    takes the same taper, or anything wider trimmed to it.
    """
    if piece.code not in place.boards or piece.length_mm < place.length_mm:
        return None
    start, end = piece.width_start_mm, piece.width_end_mm
    # The new end of a tapered piece that is shortened lies between its ends: rounded down, the rest is trimmed off.
    rise, beyond = divmod((end - start) * place.length_mm, piece.length_mm)
    if beyond and not trim:
        return None
    widths = _widths(start, start + rise, piece.length_mm == place.length_mm, place, trim)
    if widths is None:
        return None
    twice_before = piece.length_mm * (piece.width_start_mm + piece.width_end_mm)
    twice_after = place.length_mm * sum(widths)
    trimmed = bool(beyond) or widths != (start, start + rise)
    return Rework(*widths, trimmed, -(-(twice_before - twice_after) // 2))


def _widths(start: int, end: int, whole: bool, place: PlaceKind, trim: bool) -> tuple[int, int] | None:
    """The end widths in the place, from those of the piece at the place's length."""
    if place.taper is not None:
        if (start, end) == place.taper and whole:
            return place.taper
        return place.taper if trim and start >= place.taper[0] and end >= place.taper[1] else None
    narrow = min(start, end)
    if narrow < place.width_min_mm:
        return None
    width = min(narrow, place.width_max_mm)
    if (start, end) != (width, width) and not trim:
        return None
    return width, width
