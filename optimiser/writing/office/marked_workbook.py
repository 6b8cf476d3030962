"""A survey's workbook given back with every faulty cell coloured and commented, and a sheet that lists them all.

The user's own workbook is opened and marked, so that its formats, notes and other sheets stay; a folder of csv becomes
a workbook of its tables. Marks of an earlier reading are taken off first.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from optimiser.errors.problems import Problem, ProblemList, shown
from optimiser.reading.csv_folder import grids_of_folder
from optimiser.reading.package import open_package
from optimiser.tables.text import as_text, counted
from optimiser.writing.drawing.shapes import without_control_characters

LIST = "faults"
"""The name of the sheet that lists the faults; it stands first."""

_AUTHOR = "barrier-orders"
_TITLE = "Faults of the last reading"
_COLOUR = "FFF4A6A0"
_CELLS = re.compile(r"([A-Z]{1,3}[1-9]\d{0,6})(?::([A-Z]{1,3}[1-9]\d{0,6}))?")
_MOST_CELLS = 1000  # of one merged range that are coloured


def has_cells(path: Path) -> bool:
    """Whether a project's file has cells to mark: a workbook or a folder of csv, not JSON or the standard input."""
    return path.is_dir() or (path.is_file() and path.suffix.lower() != ".json")


def marked_workbook(path: Path, faults: Sequence[Problem]) -> bytes:
    """The workbook (or the csv tables) at `path` with each fault's cell coloured and commented, as .xlsx.

    Raises UnusableInput or RefusedPackageError where the file cannot be opened at all; then it has no cell to mark.
    """
    from openpyxl import load_workbook

    if path.is_dir():
        book = _book_of_csv(path)
    else:
        data = path.read_bytes()
        open_package(data)  # refuses what must not be opened
        book = load_workbook(io.BytesIO(data))
        _take_off_earlier_marks(book)
    for number, fault in enumerate(faults, 1):
        _mark(book, number, fault)
    _list(book, faults)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _book_of_csv(folder: Path) -> Any:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for sheet, grid in grids_of_folder(folder, ProblemList()).values():
        written = book.create_sheet(sheet[:31])
        for number, row in enumerate(grid, 1):
            for column, value in enumerate(row, 1):
                if value:
                    cell = written.cell(number, column)
                    cell.value = without_control_characters(str(value))
                    cell.data_type = "s"  # never a formula
    return book


def _take_off_earlier_marks(book: Any) -> None:
    from openpyxl.styles import PatternFill

    if LIST in book.sheetnames and book[LIST]["A1"].value == _TITLE:
        book.remove(book[LIST])
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.comment is not None and cell.comment.author == _AUTHOR:
                    cell.comment = None
                    cell.fill = PatternFill()


def _mark(book: Any, number: int, fault: Problem) -> None:
    """Colours a fault's cells and comments the first; a fault of a row alone stands at the row's first cell."""
    from openpyxl.cell.cell import MergedCell
    from openpyxl.comments import Comment
    from openpyxl.styles import PatternFill

    if fault.place not in book.sheetnames:
        return
    sheet = book[fault.place]
    named = fault.cell or (f"A{fault.row}" if fault.row else None)
    fill = PatternFill("solid", fgColor=_COLOUR)
    words = without_control_characters(f"{number}: {fault.message}; {fault.mend}")
    for place, name in enumerate(filter(None, (named, *fault.also))):
        for part, cell in enumerate(_cells(sheet, name)):
            if isinstance(cell, MergedCell):
                continue
            cell.fill = fill
            if part:
                continue
            said = (
                words if not place else f"{number}: as in {named}; {without_control_characters(fault.mend)}"
            )
            before = f"{cell.comment.text}\n" if cell.comment is not None else ""
            cell.comment = Comment(f"{before}{said}"[:4000], _AUTHOR, height=110, width=320)


def _cells(sheet: Any, name: str) -> Iterable[Any]:
    """The cells of 'C14' or 'C15:C16'; none for a name that is no cell."""
    match = _CELLS.fullmatch(name)
    if match is None:
        return ()
    if match[2] is None:
        return (sheet[name],)
    found = [cell for row in sheet[name] for cell in row]
    return found[:_MOST_CELLS]


def _list(book: Any, faults: Sequence[Problem]) -> None:
    """The sheet that lists every fault, each with a link to its cell."""
    from openpyxl.styles import Alignment, Font, PatternFill

    sheet = book.create_sheet(LIST, 0)
    sheet["A1"] = _TITLE
    sheet["A1"].font = Font(bold=True, size=14)
    sheet["A2"] = f"{counted(len(faults), 'fault')}. Each cell is coloured and says in a note how to fix it."
    headings = ("number", "sheet", "cell", "column", "in the cell", "what is wrong", "how to fix it")
    for column, (heading, width) in enumerate(zip(headings, (9, 14, 10, 18, 24, 60, 60), strict=True), 1):
        cell = sheet.cell(4, column, heading)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="FFDDE3E8")
        sheet.column_dimensions[cell.column_letter].width = width
    for line, fault in enumerate(faults, 5):
        where = fault.cell or (f"row {fault.row}" if fault.row else "")
        value = "" if fault.value is None else shown(fault.value)
        texts = (fault.place, where, fault.column or "", value, fault.message, fault.mend)
        sheet.cell(line, 1, line - 4)
        for column, text in enumerate(texts, 2):
            cell = sheet.cell(line, column, as_text(without_control_characters(text)))
            cell.alignment = Alignment(wrap_text=column > 5, vertical="top")
        if fault.cell and fault.place in book.sheetnames:
            quoted = fault.place.replace("'", "''")
            sheet.cell(line, 3).hyperlink = f"#'{quoted}'!{fault.cell.partition(':')[0]}"
            sheet.cell(line, 3).style = "Hyperlink"
    sheet.freeze_panes = "A5"
    book.active = 0
    for other in book.worksheets[1:]:
        other.sheet_view.tabSelected = False
