"""What the three kinds of file have in common: tables of cells that each know their place.

A workbook, a folder of csv and a JSON document are each turned into a `Document`; `assembling` then makes one
and the same `Project` of it, whatever it came from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from optimiser.errors.problems import Problem


class _Reported:
    """Stands in a cell whose fault is already reported, so that it is not reported again as missing."""

    def __repr__(self) -> str:
        return "reported"


REPORTED = _Reported()


class Places(Protocol):
    """How a document names its places."""

    def problem(self, row: int | None, column: str | None, value: object, message: str, mend: str) -> Problem:
        """A problem at a row's column; row or column None where it concerns the whole."""


def column_letters(index: int) -> str:
    """A spreadsheet's name of a column: 0 -> A, 27 -> AB."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


@dataclass(frozen=True)
class SheetPlaces:
    """Places of a sheet or csv file; `at` gives each column's index from 0."""

    sheet: str
    at: Mapping[str, int] = field(default_factory=dict)

    def problem(self, row: int | None, column: str | None, value: object, message: str, mend: str) -> Problem:
        """gaps, row 14, gap_mm; with the cell's name C14 where both are known."""
        cell = None
        if row is not None and column is not None and column in self.at:
            cell = f"{column_letters(self.at[column])}{row}"
        return Problem(self.sheet, row, column, value, message, mend, cell)


@dataclass(frozen=True)
class JsonPlaces:
    """Places of a JSON document: gaps[13].gap_mm. `keys` gives what a row's column is called in the file."""

    path: str
    listed: bool = True

    def problem(self, row: int | None, column: str | None, value: object, message: str, mend: str) -> Problem:
        """A JSON path; it holds row and column, so those stay empty."""
        path = f"{self.path}[{row}]" if row is not None and self.listed else self.path
        if column is not None:
            path = f"{path}.{column}" if path else column
        return Problem(path, None, None, value, message, mend)


@dataclass(frozen=True)
class Row:
    """A row of a table: its number in the sheet (or index in the JSON list) and its cells that are not
    blank."""

    number: int
    cells: Mapping[str, object]


@dataclass(frozen=True)
class RawTable:
    """A table as it stands in the file. `columns`: those found, so a missing one is reported only once."""

    places: Places
    columns: frozenset[str]
    rows: tuple[Row, ...]

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)


@dataclass(frozen=True)
class RawField:
    """One key of `project` or one rule of `detail`, with where its value stands."""

    name: str
    value: object
    row: int | None
    column: str | None
    places: Places
    unit: object = None

    def problem(self, message: str, mend: str) -> Problem:
        """A problem of this value; it is told under the rule's own name."""
        found = self.places.problem(self.row, self.column, self.value, message, mend)
        if isinstance(self.places, JsonPlaces):
            return found
        return Problem(found.place, found.row, self.name, self.value, message, mend, found.cell)


@dataclass
class Document:
    """A whole input. A table that is not in it is None or absent.

    `details` are the rules of each named detail; those under a heading of a sheet may be a column of the user's own
    (`maybe_details`): they are a detail when a run names it, or when all that stands there are values of rules.
    """

    tables: dict[str, RawTable] = field(default_factory=dict)
    project: tuple[RawField, ...] = ()
    detail: tuple[RawField, ...] = ()
    survey_limits: tuple[RawField, ...] = ()
    crew_rates: tuple[RawField, ...] = ()
    notes: tuple[str, ...] = ()  # of an earlier reading, which a project as JSON keeps
    details: dict[str, tuple[RawField, ...]] = field(default_factory=dict)
    maybe_details: dict[str, tuple[RawField, ...]] = field(default_factory=dict)
    missing_noted: set[str] = field(default_factory=set)  # tables whose absence is already explained
    is_json: bool = False
