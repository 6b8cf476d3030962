"""A picture of the faulty cells of an upload: of each sheet the headings, and the rows around each fault.

`pictures_of` opens a stranger's file, so it runs in a limited process; `pictures_from` is pure.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from api.projects.reading import Upload

AROUND = 1  # rows shown before and after a faulty one
HEADINGS_WITHIN = 3  # a fault so near the top needs no gap between it and the headings
MOST_COLUMNS = 10
MOST_TEXT = 60
_CELL = re.compile(r"([A-Z]{1,3})(\d{1,7})")

Grid = Sequence[Sequence[str]]


@dataclass(frozen=True)
class FaultNote:
    """One fault as it is said under its row; `number` counts the upload's faults from 1."""

    number: int
    cell: str
    column: str
    value: str
    message: str
    fix: str


@dataclass(frozen=True)
class ShownCell:
    """A cell's text, and the number of the fault in it (0: none)."""

    text: str
    fault: int = 0


@dataclass(frozen=True)
class ShownRow:
    """A row as the spreadsheet numbers it; `after_gap` when rows before it are left out."""

    number: int
    cells: tuple[ShownCell, ...]
    faults: tuple[FaultNote, ...]
    after_gap: bool = False


@dataclass(frozen=True)
class SheetPicture:
    """The part of a sheet that shows its faults. `elsewhere` are faults of the sheet that no row shows."""

    sheet: str
    columns: tuple[str, ...]
    rows: tuple[ShownRow, ...]
    elsewhere: tuple[FaultNote, ...]

    @property
    def fault_count(self) -> int:
        """How many faults the sheet has."""
        return len(self.elsewhere) + sum(len(row.faults) for row in self.rows)


def letters_of(index: int) -> str:
    """The spreadsheet's name of a column counted from 0: 0 -> 'A', 27 -> 'AB'."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(65 + rest) + name
    return name


def _index_of(letters: str) -> int:
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - 64
    return index - 1


def place_of(cell: str | None) -> tuple[int, int] | None:
    """(row from 1, column from 0) of a cell's name, of a range its first: 'C14' -> (14, 2)."""
    match = _CELL.match(cell or "")
    return (int(match[2]), _index_of(match[1])) if match else None


def pictures_from(grids: Mapping[str, Grid], faults: Sequence[Mapping[str, Any]]) -> tuple[SheetPicture, ...]:
    """A picture for each sheet with faults, in the order in which the faults are listed.

    `grids` holds each sheet's cells as text; `faults` are as the service answers them (table, row, column,
    cell, value, message, mend). A sheet that `grids` has not gets a picture without rows.
    """
    by_sheet: dict[str, list[tuple[FaultNote, tuple[int, int] | None, int | None]]] = {}
    for number, fault in enumerate(faults, 1):
        said = FaultNote(
            number,
            fault.get("cell") or "",
            str(fault.get("column") or ""),
            "" if fault.get("value") is None else str(fault["value"])[:MOST_TEXT],
            fault["message"],
            fault.get("mend") or "",
        )
        by_sheet.setdefault(fault.get("table") or "", []).append(
            (said, place_of(fault.get("cell")), fault.get("row"))
        )
    return tuple(_picture(sheet, grids.get(sheet, ()), found) for sheet, found in by_sheet.items())


def _picture(
    sheet: str, grid: Grid, found: Sequence[tuple[FaultNote, tuple[int, int] | None, int | None]]
) -> SheetPicture:
    in_row: dict[int, list[FaultNote]] = {}
    marked: dict[tuple[int, int], int] = {}
    elsewhere: list[FaultNote] = []
    for said, place, row in found:
        at = place[0] if place else row
        if at is None or not 1 <= at <= len(grid) + 1:
            elsewhere.append(said)
            continue
        in_row.setdefault(at, []).append(said)
        if place:
            marked.setdefault(place, said.number)
    if not in_row:
        return SheetPicture(sheet, (), (), tuple(elsewhere))
    shown = _rows_around(sorted(in_row), len(grid))
    columns = _columns_around(grid, shown, {column for _, column in marked})
    rows: list[ShownRow] = []
    before = 0
    for number in shown:
        cells = grid[number - 1] if number <= len(grid) else ()
        rows.append(
            ShownRow(
                number,
                tuple(
                    ShownCell(
                        cells[column][:MOST_TEXT] if column < len(cells) else "",
                        marked.get((number, column), 0),
                    )
                    for column in columns
                ),
                tuple(in_row.get(number, ())),
                number != before + 1,
            )
        )
        before = number
    return SheetPicture(sheet, tuple(letters_of(column) for column in columns), tuple(rows), tuple(elsewhere))


def _rows_around(faulty: Sequence[int], last: int) -> list[int]:
    """The headings' row and the rows around each faulty one, in order."""
    shown = {1}
    for row in faulty:
        shown.update(range(max(1, row - AROUND), min(max(last, row), row + AROUND) + 1))
    first = min(row for row in shown if row > 1) if len(shown) > 1 else 1
    if first <= HEADINGS_WITHIN:
        shown.update(range(1, first))
    return sorted(shown)


def _columns_around(grid: Grid, rows: Sequence[int], marked: set[int]) -> list[int]:
    """The columns with anything in these rows; of very many, those around the marked ones."""
    filled = {
        column
        for row in rows
        if row <= len(grid)
        for column, text in enumerate(grid[row - 1])
        if text.strip()
    }
    columns = sorted(filled | marked)
    if len(columns) <= MOST_COLUMNS:
        return list(range(columns[-1] + 1)) if columns and columns[-1] < MOST_COLUMNS else columns
    chosen = set(columns[:2]) | marked
    for column in columns:
        if len(chosen) >= MOST_COLUMNS:
            break
        if any(abs(column - near) <= 2 for near in marked):
            chosen.add(column)
    return sorted(chosen)


def pictures_of(upload: Upload, faults: Sequence[Mapping[str, Any]]) -> tuple[SheetPicture, ...]:
    """The pictures of an upload's faults. A file whose cells cannot be read gets none, only its faults."""
    sheets = {fault.get("table") or "" for fault in faults}
    if upload.kind == "json":
        return pictures_from({}, faults)
    names = list(upload.files)
    if len(names) == 1 and names[0].lower().endswith(".xlsx"):
        return pictures_from(_grids_of_workbook(upload.files[names[0]], sheets), faults)
    return pictures_from(
        {
            PurePath(name).stem: _grid_of_csv(content)
            for name, content in upload.files.items()
            if PurePath(name).stem in sheets
        },
        faults,
    )


def _grids_of_workbook(data: bytes, sheets: set[str]) -> dict[str, Grid]:
    from python_calamine import CalamineWorkbook

    from optimiser.reading.package import open_package

    try:
        package = open_package(data)
        wanted = [name for name in package.sheets if name in sheets]
        workbook = CalamineWorkbook.from_filelike(package.packed(wanted))
        return {
            name: [
                [_text(cell) for cell in row]
                for row in workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
            ]
            for name in wanted
        }
    except Exception:  # a damaged package or sheet, whichever library finds it: the faults name it already
        return {}


def _text(cell: object) -> str:
    """A cell as the spreadsheet shows it."""
    if isinstance(cell, float):
        return format(cell, ".15g")
    if hasattr(cell, "date") and callable(cell.date):
        return str(cell.date())
    return str(cell)


def _grid_of_csv(content: bytes) -> Grid:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", "replace")
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max((",", ";", "\t"), key=first.count)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error:
        return []
