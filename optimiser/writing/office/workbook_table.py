"""A sheet of the office's workbook that holds one table: totals under it, then what its headings mean."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from optimiser.tables.columns import Columns
from optimiser.writing.spreadsheet import Book


def table_sheet(
    book: Book, name: str, columns: Columns, rows: Sequence[Any], totals: Sequence[str] = ()
) -> None:
    """A sheet with a table, a line of totals under the columns named, and its headings explained."""
    sheet = book.sheet(name)
    end = book.table(sheet, 0, columns, rows)
    if totals:
        total_line(book, sheet, end, columns, rows, totals)
        end += 1
    explain_headings(book, sheet, end, columns)


def total_line(
    book: Book, sheet: Any, row: int, columns: Columns, rows: Sequence[Any], totals: Sequence[str]
) -> None:
    """'Total' in the first column, and the sums of the columns named; a value that is None counts as none."""
    book.text(sheet, row, 0, "Total", "total_text")
    for place, column in enumerate(columns):
        if place and column.name not in totals:
            sheet.write_blank(row, place, None, book.formats["total_text"])
        elif place:
            values = [column.of(one) for one in rows]
            total = sum(Decimal(str(value)) for value in values if value is not None)
            style = {"count": "total_whole", "money": "total"}.get(column.kind, "total_area")
            sheet.write_number(row, place, float(total), book.formats[style])


def explain_headings(book: Book, sheet: Any, row: int, columns: Columns) -> None:
    """What the headings of a table mean, from the second row after it; `row` is the one below the table."""
    said = [f"{column.heading_with_unit}: {column.what}" for column in columns if column.what]
    if said:
        book.text(sheet, row + 1, 0, "Headings", "section")
        for place, words in enumerate(said, start=row + 2):
            book.text(sheet, place, 0, words, "text")
