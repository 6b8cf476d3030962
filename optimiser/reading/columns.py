"""The columns of a table, and which of them a heading means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from optimiser.reading.cells import Parser, closest

WRONG_UNITS = ("m", "cm", "metre", "metres", "in", "inch", "inches", "ft", "feet", "µm", "um")


@dataclass(frozen=True)
class Column:
    """A column of a table. `parse` reads one of its cells; `mend` tells what to write where it is blank, `instead` the
    columns of which any may stand in its place."""

    name: str
    parse: Parser
    required: bool = False
    mend: str = ""
    also: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()


@dataclass(frozen=True)
class TableSpec:
    """A table of the contract. `row_means` says what one of its rows is, for messages."""

    name: str
    row_means: str
    columns: tuple[Column, ...]
    required: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """The columns' names in the contract's order."""
        return tuple(column.name for column in self.columns)


def folded(heading: str) -> str:
    """A heading as it is compared: 'Length (mm)' and 'length [mm]' are both length_mm."""
    return re.sub(r"[^0-9a-zµ%]+", "_", heading.strip().casefold()).strip("_")


def column_meant(spec: TableSpec, heading: str) -> Column | None:
    """The column that a heading stands for, or None. The unit may be left out, or stand in brackets."""
    plain = folded(heading)
    for column in spec.columns:
        bare = column.name.removesuffix("_mm")
        if plain in (column.name, bare, *column.also) or plain.removesuffix("_mm") in (bare, *column.also):
            return column
        if column.name == "price" and re.fullmatch(r"price_[a-z]{3}", plain):
            return column
        if column.name == "fraction" and plain == "fraction_%":
            return column
    return None


def probably_meant(heading: str, missing: Sequence[str]) -> str | None:
    """The missing column that an unknown heading was probably meant for: one spelt nearly so, or one whose name
    the heading goes on from ('Mullions (mm from start)'). None for a column of the user's own."""
    plain = folded(heading)
    for column in missing:
        bare = column.removesuffix("_mm")
        if plain.startswith(f"{column}_") or (len(bare) > 3 and plain.startswith(f"{bare}_")):
            return column
    return closest(plain, missing)


def wrong_unit(spec: TableSpec, heading: str) -> Column | None:
    """The column of lengths whose heading carries another unit than millimetres ('length (m)'), or None."""
    base, _, unit = folded(heading).rpartition("_")
    if unit in WRONG_UNITS:
        for column in spec.columns:
            if column.name.endswith("_mm") and column.name.removesuffix("_mm") == base:
                return column
    return None
