"""Cutting patterns strip by strip: how each board or offcut is ripped and cross-cut."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from optimiser.cutting.problem import CuttingPattern, Strip
from optimiser.tables.columns import Column, Columns


class PatternStrip(NamedTuple):
    """A strip of a pattern: the pattern's number, and the strip's place from the board's datum edge, from 1."""

    number: int
    pattern: CuttingPattern
    place: int
    strip: Strip


def strips_of(numbered: Iterable[tuple[int, CuttingPattern]]) -> Iterator[PatternStrip]:
    """The strips of all patterns with their numbers, pattern by pattern, from the datum edge on."""
    for number, pattern in numbered:
        for place, strip in enumerate(pattern.strips, start=1):
            yield PatternStrip(number, pattern, place, strip)


def _cut_from(row: PatternStrip) -> str:
    return "board" if row.pattern.stock == row.pattern.code else row.pattern.stock


def _pieces_in_words(row: PatternStrip) -> str:
    return ", ".join(
        f"{piece.id} ({piece.length_mm})" + (" head to tail" if piece.head_to_tail else "")
        for piece in row.strip.pieces
    )


_NUMBER = Column(
    "layout",
    "Pattern",
    "count",
    8,
    what="the pattern's number, as written on its boards",
    value=lambda row: row.number,
)
_CODE = Column("code", "Board", width=14, value=lambda row: row.pattern.code)
_STAGE = Column(
    "stage", "Delivery", "count", 9, what="sequence of the delivery with which its board comes",
    value=lambda row: row.pattern.stage,
)  # fmt: skip
_REPEAT = Column(
    "repeat", "Times", "count", 7, what="how many boards are cut so", value=lambda row: row.pattern.repeat
)
_PLACE = Column("strip", "Strip", "count", 7, what="from the datum edge", value=lambda row: row.place)
_WIDTH = Column("width_mm", "Strip width", "mm", 11, "mm", value=lambda row: row.strip.width_mm)
_READY = Column(
    "cut_ready", "Ready to cut", "flag", 9, what="no: a piece of it belongs to a level with nominal gaps",
    value=lambda row: row.pattern.cut_ready,
)  # fmt: skip
_COUNT = Column("pieces", "Pieces", "count", 8, what="in the strip", value=lambda row: len(row.strip.pieces))

PATTERNS: Columns = (
    _NUMBER,
    _CODE,
    Column("stock", "Cut from", width=14, what="the board's code, or the offcut", value=lambda row: row.pattern.stock),
    _STAGE,
    _REPEAT,
    _PLACE,
    _WIDTH,
    _READY,
    _COUNT,
    Column(
        "piece_ids", "Piece ids", "texts", 40, what="from the datum end",
        value=lambda row: tuple(piece.id for piece in row.strip.pieces),
    ),
    Column(
        "piece_lengths_mm", "Piece lengths mm", "numbers", 30, what="mm, in the order of `piece_ids`",
        value=lambda row: tuple(piece.length_mm for piece in row.strip.pieces),
    ),
)  # fmt: skip

PATTERNS_ON_THE_SHEET: Columns = (
    _NUMBER,
    _CODE,
    Column("stock", "Cut from", width=14, value=_cut_from),
    _STAGE,
    _REPEAT,
    _PLACE,
    _WIDTH,
    _READY,
    _COUNT,
    Column("piece_ids", "Pieces from the datum end (length mm)", "long text", 60, value=_pieces_in_words),
)
"""What the workbook's sheet of cutting shows: the same strips, an offcut named where it is not a board."""
