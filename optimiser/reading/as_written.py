"""What was measured, as people write it: decimals, '160/166' for top and bottom, '~159', '±12'.

Each is read where only one thing can be meant, and what was assumed is noted, so that it can be said.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil
from typing import Any

from optimiser.errors.listed import listed
from optimiser.errors.problems import CellError, shown
from optimiser.reading.cells import Parser, several
from optimiser.reading.documents import JsonPlaces, Places
from optimiser.reading.names import with_plain_spaces_and_dashes
from optimiser.reading.numbers import Rounding, Size, millimetres, nearest, number
from optimiser.reading.units import (
    MILLIMETRES_IN,
    millimetres_of_inches,
    several_in_inches,
    top_and_bottom_in_inches,
)

ROUNDED_UP = "decimals are rounded up to the whole millimetre"
THE_WIDER = "of a top and a bottom reading the wider counts, and both are kept"
NOMINAL = "a gap marked as approximate is taken as nominal, not as measured"

_SHOWN = 6  # cells that one note names
_INNER_COMMA = re.compile(r"\d,\d", re.ASCII)
_THOUSANDS = re.compile(r"(?:[1-9]|[1-4]\d),\d{3}(?!\d)", re.ASCII)
_APPROXIMATE = re.compile(r"(?:[~≈∼≃]|(?:ca|approx|circa)\b\.?)\s*(?=\d)", re.IGNORECASE)
_PLUS_MINUS = re.compile(r"(?:±|\+\s*/?\s*-)\s*(?=\d)")
_ROUNDED_FROM = {
    "length": 100,
    "gap": 45,
    "small": 1,
}  # below this a fraction may be in metres or centimetres


@dataclass(frozen=True)
class ReadAs:
    """A cell's value with what had to be assumed (`notes`), and what the cell says of other columns of its row."""

    value: Any
    notes: tuple[str, ...] = ()
    row: Mapping[str, Any] = field(default_factory=dict)


def surveyed_millimetres(
    lowest: int, highest: int, size: Size = "length", rounding: Rounding | None = None
) -> Parser:
    """A parser of millimetres that were measured: as `millimetres`, but a decimal that can only be in millimetres is
    rounded up, and said."""
    whole = millimetres(lowest, highest, size, rounding)

    def parse(value: Any) -> Any:
        try:
            return whole(value)
        except CellError:
            rounded = _rounded_up(value, _ROUNDED_FROM[size])
            if rounded is None:
                raise
            return ReadAs(whole(rounded), (ROUNDED_UP,))

    return parse


def _rounded_up(value: Any, least: int) -> int | None:
    """A decimal in millimetres rounded up; None for anything else."""
    try:
        found, unit = number(value, "")
    except CellError:
        return None
    if (
        found == found.to_integral_value()
        or not least <= found < 10**9
        or MILLIMETRES_IN.get(unit or "mm") != 1
    ):
        return None
    return ceil(found)


def surveyed_positions(parse: Parser) -> Parser:
    """A parser of several positions in a cell, each as `parse` reads it.

    Commas without a space part positions too (600,1800), but only where that is all that they can mean: '1250,5 2500,5'
    and '1,200 2,400' are refused.
    """
    read_all = several(parse, "positions")

    def parse_all(value: Any) -> Any:
        if (inches := several_in_inches(value)) is not None:
            written = " ".join(str(nearest(one)) for one in inches)
            raise CellError("positions must be whole numbers of millimetres", f"write {written}")
        read = read_all(value)
        notes = tuple(dict.fromkeys(note for one in read if isinstance(one, ReadAs) for note in one.notes))
        plain = tuple(one.value if isinstance(one, ReadAs) else one for one in read)
        if isinstance(value, str) and _commas_within_numbers(value, plain):
            raise CellError(
                "a comma may part two positions here, or be a decimal point or part thousands",
                "separate positions by spaces, and write each in whole millimetres",
            )
        return ReadAs(plain, notes) if notes else plain

    return parse_all


def _commas_within_numbers(written: str, read: Sequence[int]) -> bool:
    """Whether commas between digits hardly part positions: what they part does not rise, or a first number too near to
    the run's start for a mullion of its own is followed by three digits, as in 1,200."""
    if not _INNER_COMMA.search(written):
        return False
    return any(left >= right for left, right in pairwise(read)) or bool(_THOUSANDS.match(written.strip()))


def tolerance(highest: int) -> Parser:
    """A parser of a tolerance in millimetres: '±12', '+/-12' and 12 are the same."""
    plain = surveyed_millimetres(0, highest, "small", "up")

    def parse(value: Any) -> Any:
        if isinstance(value, str):
            value = _PLUS_MINUS.sub("", with_plain_spaces_and_dashes(value).strip(), count=1)
        return plain(value)

    return parse


def gap(lowest: int, highest: int) -> Parser:
    """A parser of a gap: 160, '159,5', '160/166' (top and bottom of the slab), '~159' (nominal, not measured)."""
    one = surveyed_millimetres(lowest, highest, "gap")

    def parse(value: Any) -> Any:
        if not isinstance(value, str):
            return one(value)
        written = with_plain_spaces_and_dashes(value).strip()
        bare = _APPROXIMATE.sub("", written, count=1) if _APPROXIMATE.match(written) else written
        if (inches := top_and_bottom_in_inches(bare)) is not None:
            both = "/".join(str(ceil(one)) for one in inches)
            raise CellError("a gap must be a whole number of millimetres", f"write {both}")
        two = bare.count("/") == 1 and millimetres_of_inches(bare) is None
        read = _top_and_bottom(bare, one) if two else _read_as(one(bare))
        if bare != written:
            read = ReadAs(read.value, (*read.notes, NOMINAL), {**read.row, "basis": "nominal"})
        return read if read.notes or read.row else read.value

    return parse


def _top_and_bottom(written: str, one: Parser) -> ReadAs:
    found = []
    for part in written.split("/"):
        try:
            found.append(_read_as(one(part.strip())))
        except CellError as slip:
            raise CellError(f"{shown(part.strip())}: {slip.message}", slip.mend) from None
    top, bottom = found
    notes = dict.fromkeys((*top.notes, *bottom.notes, THE_WIDER))
    return ReadAs(
        max(top.value, bottom.value), tuple(notes), {"gap_top_mm": top.value, "gap_bottom_mm": bottom.value}
    )


def _read_as(value: Any) -> ReadAs:
    return value if isinstance(value, ReadAs) else ReadAs(value)


class ReadingNotes:
    """What had to be assumed while tables were read, gathered so that a hundred cells make one sentence."""

    def __init__(self) -> None:
        self._cells: dict[tuple[str, str, str], list[str]] = {}

    def add(self, places: Places, table: str, row: int, column: str, written: object, read: ReadAs) -> None:
        """Notes a cell of a table's row that was read as something else than it says."""
        where = f"[{row}]" if isinstance(places, JsonPlaces) else f"row {row}"
        for note in read.notes:
            self._cells.setdefault((table, column, note), []).append(f"{where} {shown(written)}")

    def sentences(self) -> tuple[str, ...]:
        """A sentence for each table, column and kind of note, with the first cells that it concerns."""
        return tuple(
            f"{table}, {column}: {note} ({listed(cells, _SHOWN)})."
            for (table, column, note), cells in self._cells.items()
        )
