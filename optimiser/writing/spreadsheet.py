"""A workbook to be read and printed: styles, sheets set up for print, tables, paragraphs.

Text is always text, whatever it begins with.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

import xlsxwriter

from optimiser.tables.columns import Column, Kind
from optimiser.tables.text import cell_text
from optimiser.writing.drawing.shapes import without_control_characters
from optimiser.writing.words import WITHOUT_DECIMALS

PAPERS = {"A4": 9, "Letter": 1}  # the paper's number in a workbook (ECMA-376, pageSetup)

_LONGEST_CELL = 32_000  # a cell holds at most 32 767 characters (ECMA-376)
_LONGEST_HEAD = 110  # of the 255 letters of a page's head, every & twice (xlsxwriter writes no longer one)
_LETTERS_ACROSS = 145  # of a paragraph's line, over the thirteen columns that it takes
_SHOWN_AS: dict[Kind, str] = {
    "text": "cell", "long text": "wrapped_cell", "texts": "cell", "numbers": "wrapped_cell", "date": "date",
    "count": "whole", "mm": "mm", "metres": "area", "area": "area", "share": "percent", "number": "area",
    "money": "money", "flag": "cell",
}  # fmt: skip
"""The style of a cell by the kind of its column."""


class Book:
    """One workbook while it is written; `title` stands at the head of every printed page. Raises ValueError for a paper
    other than A4 and Letter."""

    def __init__(self, title: str, currency: str, paper: str = "A4") -> None:
        if paper not in PAPERS:
            raise ValueError(f"paper {paper!r} is not known: choose A4 or Letter")
        self.title = title
        self.paper = PAPERS[paper]
        self._widths: dict[tuple[str, int], float] = {}
        self.file = io.BytesIO()
        self.workbook = xlsxwriter.Workbook(
            self.file,
            {
                "in_memory": True,
                "strings_to_formulas": False,
                "strings_to_urls": False,
                "strings_to_numbers": False,
            },
        )
        # A fixed time of creation: equal plans give equal bytes, and the core reads no clock.
        self.workbook.set_properties({"title": _clean(title), "created": datetime(2000, 1, 1)})
        money = f"[${currency}] #,##0" + ("" if currency in WITHOUT_DECIMALS else ".00")
        base: dict[str, Any] = {"font_name": "Arial", "font_size": 10, "valign": "top"}
        styles: dict[str, dict[str, Any]] = {
            "text": {},
            "wrapped": {"text_wrap": True},
            "cell": {"align": "left", "indent": 1},
            "wrapped_cell": {"text_wrap": True, "align": "left", "indent": 1},
            "whole": {"num_format": "#,##0"},
            "mm": {"num_format": "0"},
            "area": {"num_format": "#,##0.00"},
            "percent": {"num_format": "0.0%"},
            "money": {"num_format": money},
            "date": {"num_format": "yyyy-mm-dd", "align": "left", "indent": 1},
            "title": {"bold": True, "font_size": 14},
            "label": {"bold": True},
            "section": {"bold": True, "font_size": 11, "bottom": 1},
            "heading": {
                "bold": True,
                "align": "left",
                "indent": 1,
                "text_wrap": True,
                "valign": "vcenter",
                "bg_color": "#DDE3E8",
                "bottom": 1,
            },
            "number_heading": {
                "bold": True,
                "text_wrap": True,
                "align": "right",
                "valign": "vcenter",
                "bg_color": "#DDE3E8",
                "bottom": 1,
            },
            "total": {"bold": True, "top": 1, "num_format": money},
            "total_text": {"bold": True, "top": 1, "align": "left", "indent": 1},
            "total_area": {"bold": True, "top": 1, "num_format": "#,##0.00"},
            "total_whole": {"bold": True, "top": 1, "num_format": "#,##0"},
        }
        self.formats = {name: self.workbook.add_format({**base, **style}) for name, style in styles.items()}

    def content(self) -> bytes:
        """Ends the workbook; its bytes."""
        self.workbook.close()
        return self.file.getvalue()

    def sheet(self, name: str) -> Any:
        """A sheet set up for print: landscape, one page wide, the order's name and page numbers."""
        sheet = self.workbook.add_worksheet(name)
        sheet.set_landscape()
        sheet.set_paper(self.paper)
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(left=0.5, right=0.5, top=0.8, bottom=0.7)
        shown = _clean(self.title)[:_LONGEST_HEAD].replace("&", "&&")
        sheet.set_header(f"&L{shown}&R{name}")
        sheet.set_footer("&LThe tested detail, local code and a licensed practitioner decide.&RPage &P of &N")
        sheet.hide_gridlines(2)
        return sheet

    def table(
        self,
        sheet: Any,
        top: int,
        columns: Sequence[Column],
        rows: Sequence[Any],
        freeze: bool = True,
    ) -> int:
        """Writes a heading and a line for each row from `top` down, each value as its column reads it; returns the
        line below the last. A sheet's column is as wide as the widest of its tables asks."""
        for number, column in enumerate(columns):
            width = max(column.width, self._widths.get((sheet.name, number), 0))
            self._widths[sheet.name, number] = width
            sheet.set_column(number, number, width)
            style = "number_heading" if column.to_the_right else "heading"
            self.text(sheet, top, number, column.heading_with_unit, style)
        sheet.set_row(top, 30)
        if freeze:
            sheet.freeze_panes(top + 1, 1)
            sheet.repeat_rows(top)
        formats = [self.formats[_SHOWN_AS[column.kind]] for column in columns]
        for line, row in enumerate(rows, start=top + 1):
            for number, column in enumerate(columns):
                self._cell(sheet, line, number, column, row, formats[number])
        return top + 1 + len(rows)

    def _cell(self, sheet: Any, line: int, number: int, column: Column, row: Any, style: Any) -> None:
        value = column.of(row)
        if value is None or value == "" or value == ():
            return
        if column.kind == "money":
            sheet.write_number(line, number, float(value), style)
        elif isinstance(value, date):
            sheet.write_datetime(line, number, datetime.combine(value, time()), style)
        elif isinstance(value, (int, float, Decimal)) and column.kind != "flag":
            sheet.write_number(line, number, float(value), style)
        else:
            sheet.write_string(line, number, _clean(cell_text(column, row)), style)

    def paragraphs(self, sheet: Any, row: int, title: str, paragraphs: Sequence[str]) -> int:
        """A titled list of sentences across the sheet, each high enough to be read; returns the next row."""
        if not paragraphs:
            return row
        self.text(sheet, row, 0, title, "section")
        for column in range(1, 13):
            sheet.write_blank(row, column, None, self.formats["section"])
        for paragraph in paragraphs:
            row += 1
            text = _clean(paragraph)
            sheet.merge_range(row, 0, row, 12, "", self.formats["wrapped"])
            sheet.write_string(row, 0, text, self.formats["wrapped"])
            sheet.set_row(row, 13.5 * min(25, 1 + len(text) // _LETTERS_ACROSS))
        return row + 2

    def text(self, sheet: Any, row: int, column: int, text: str, shown_as: str) -> None:
        """Writes text in a style; it never becomes a number, a link or a formula."""
        sheet.write_string(row, column, _clean(text), self.formats[shown_as])


def _clean(text: str) -> str:
    return without_control_characters(text)[:_LONGEST_CELL]
