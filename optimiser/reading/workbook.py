"""A workbook (.xlsx) into grids, with what stands behind its values: merges, formulas, errors."""

from __future__ import annotations

import math
from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Any

from optimiser.errors.problems import Problem, ProblemList, UnusableInput
from optimiser.reading.documents import REPORTED, Document, column_letters
from optimiser.reading.grids import heading_row
from optimiser.reading.named_sheets import document_of_grids, named_sheets
from optimiser.reading.package import Package, RefusedPackageError, open_package
from optimiser.reading.sheet_scan import (
    MOST_CELLS,
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_TEXT,
    SheetFacts,
    longest_shared_text,
    scan_sheet,
)
from optimiser.reading.tables import TABLES


def document_of_workbook(data: bytes, name: str, problems: ProblemList) -> Document:
    """The tables of a workbook's bytes; `name` is the file's, for messages.

    Raises UnusableInput when it cannot be opened at all.
    """
    try:
        return document_of_package(open_package(data), problems)
    except RefusedPackageError as refused:
        raise UnusableInput([Problem(name, message=refused.message, mend=refused.mend)]) from None


def document_of_package(package: Package, problems: ProblemList) -> Document:
    """The tables of an opened workbook. Raises RefusedPackageError for damaged XML."""
    named = named_sheets(tuple(package.sheets), problems, "sheet")
    longest = longest_shared_text(package.parts.get("xl/sharedStrings.xml", b"<sst/>"))
    facts: dict[str, SheetFacts] = {}
    room = MOST_CELLS
    for table, sheet in named.items():
        found = scan_sheet(package.parts[package.sheets[sheet]])
        if _readable(found, sheet, longest, room, problems):
            facts[table] = found
            room -= found.rows * found.columns
    cells = _values(package, [named[table] for table in facts])
    grids = {}
    for table, found in facts.items():
        grid = cells[named[table]]
        top = heading_row(grid, TABLES[table]) if table in TABLES else 0
        _mark_faults(grid, found, named[table], top or 0, table in TABLES, problems)
        grids[table] = (named[table], grid)
    return document_of_grids(grids, problems)[0]


def _readable(facts: SheetFacts, sheet: str, longest: int, room: int, problems: ProblemList) -> bool:
    """Whether the sheet's cells may be unfolded: they become a full rectangle, `room` cells at most."""
    if facts.columns > MOST_COLUMNS:
        where = f"{column_letters(facts.columns - 1)}{facts.widest_row + 1}"
        problems.add(
            Problem(
                sheet, facts.widest_row + 1, None, None,
                f"the sheet reaches to column {facts.columns}, and {MOST_COLUMNS} are the most",
                "keep only the table's own columns", where,
            )
        )  # fmt: skip
    if facts.rows > MOST_ROWS:
        problems.add(
            Problem(
                sheet, facts.rows, None, None, f"the sheet reaches to row {facts.rows}, and {MOST_ROWS} are the most",
                "delete what stands below the table, or divide the project",
            )
        )  # fmt: skip
    if facts.columns <= MOST_COLUMNS and facts.rows <= MOST_ROWS and facts.rows * facts.columns > room:
        problems.add(
            Problem(
                sheet, facts.rows, None, None,
                f"the sheet reaches to {column_letters(facts.columns - 1)}{facts.rows}, and that is too far for all"
                " the cells up to there",
                "delete what stands right of and below the table, or divide the project",
            )
        )  # fmt: skip
        return False
    if facts.shared_texts * longest > MOST_TEXT:
        problems.add(Problem(sheet, message="holds too much text", mend="shorten its longest texts"))
        return False
    return facts.columns <= MOST_COLUMNS and facts.rows <= MOST_ROWS


def _values(package: Package, sheets: list[str]) -> dict[str, list[list[Any]]]:
    """The sheets' cells as plain values: None, text, int, Decimal, bool, date."""
    from python_calamine import CalamineWorkbook

    damaged = RefusedPackageError("is damaged: its sheets cannot be read", "save it again as .xlsx")
    try:
        workbook = CalamineWorkbook.from_filelike(package.packed(sheets))
        raw = {sheet: workbook.get_sheet_by_name(sheet).to_python(skip_empty_area=False) for sheet in sheets}
    except Exception:
        raise damaged from None
    except BaseException as error:  # a panic of the library arrives as a bare BaseException
        if type(error).__name__ != "PanicException":
            raise
        raise damaged from None
    return {sheet: [[_plain(cell) for cell in row] for row in rows] for sheet, rows in raw.items()}


def _plain(cell: Any) -> Any:
    """A spreadsheet's number as int or exact Decimal: 15 significant digits, which is what a spreadsheet shows."""
    if type(cell) is float:
        if cell.is_integer() and abs(cell) < 1e15:
            return int(cell)
        return Decimal(format(cell, ".15g")) if math.isfinite(cell) else Decimal("NaN")
    if cell == "":
        return None
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, (time, timedelta)):
        return str(cell)
    return cell


def _mark_faults(
    grid: list[list[Any]], facts: SheetFacts, sheet: str, top: int, is_table: bool, problems: ProblemList
) -> None:
    """Report merged, uncomputed and erroneous cells of the table, and mark them as reported in the grid.

    Cells above the headings and columns without a heading are the user's own.
    """
    width = max(facts.columns, max((len(row) for row in grid), default=0))
    heads = grid[top] if top < len(grid) else []
    concerned = {
        column
        for column in range(width)
        if not is_table or (column < len(heads) and heads[column] not in (None, ""))
    }

    def mark(row: int, column: int) -> None:
        while len(grid) <= row:
            grid.append([])
        grid[row].extend([None] * (column + 1 - len(grid[row])))
        grid[row][column] = REPORTED

    for row, column in facts.uncomputed:
        if row >= top and column in concerned:
            problems.add(
                Problem(
                    sheet, row + 1, _head(heads, column, is_table), None, "holds a formula that was never computed",
                    "open the workbook in a spreadsheet and save it, or write the value",
                    f"{column_letters(column)}{row + 1}",
                )
            )  # fmt: skip
            if row < MOST_ROWS and column < MOST_COLUMNS:
                mark(row, column)
    for row, column, error in facts.errors:
        if row >= top and column in concerned:
            problems.add(
                Problem(
                    sheet, row + 1, _head(heads, column, is_table), error, "the formula gives an error",
                    "mend the formula, or write the value", f"{column_letters(column)}{row + 1}",
                )
            )  # fmt: skip
            mark(row, column)
    for merged in facts.merged:
        covered = [
            column for column in range(merged.first_column, merged.last_column + 1) if column in concerned
        ]
        if merged.last_row < top or merged.first_row >= len(grid) or not covered:
            continue
        problems.add(
            Problem(
                sheet, merged.first_row + 1, _head(heads, merged.first_column, is_table), None,
                f"the cells {merged.name} are merged, so only the first holds a value",
                "unmerge them and fill in each cell", merged.name,
            )
        )  # fmt: skip
        for row in range(max(top, merged.first_row), min(merged.last_row, len(grid) - 1) + 1):
            for column in covered:
                if (row, column) != (merged.first_row, merged.first_column):
                    mark(row, column)


def _head(heads: list[Any], column: int, is_table: bool) -> str:
    if is_table and column < len(heads) and isinstance(heading := heads[column], str):
        return heading.strip()[:60]
    return f"column {column_letters(column)}"
