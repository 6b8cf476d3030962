"""`barrier-orders template`: an empty workbook with headings, units, drop-downs, notes and a survey sheet."""

from __future__ import annotations

import io
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import xlsxwriter

from optimiser.errors.problems import Problem, UnusableInput
from optimiser.model.project import CrewRates, Detail, SurveyLimits
from optimiser.reading.grids import EXAMPLE
from optimiser.reading.tables import NOTES
from optimiser.writing.office.survey_form import write_survey_form
from optimiser.writing.office.survey_sheets import Cell, Sheet
from optimiser.writing.office.template_formats import TemplateFormats
from optimiser.writing.office.template_rules import rule_of
from optimiser.writing.office.template_texts import (
    CREW,
    LIMITS,
    PROJECT,
    RULES,
    SHEETS,
    START,
    TemplateColumn,
    Values,
)
from optimiser.writing.whole_file import write_whole

ROWS = {
    "products": 500,
    "levels": 500,
    "runs": 5_000,
    "gaps": 50_000,
    "stock": 1_000,
    "allowance": 20,
    "deliveries": 1,
    "price_breaks": 500,
    "parties": 3,
}
"""How many rows of each sheet have drop-downs."""


def write_template(path: Path) -> None:
    """Write the empty workbook to `path`, whole or not at all.

    Raises UnusableInput when its name does not end in .xlsx, when something is already there (it might be filled
    in), or when it cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() != ".xlsx":
        mend = f"write {path.with_suffix('.xlsx').name}" if path.name else "write survey.xlsx"
        raise UnusableInput([Problem(str(path), message="is not the name of a workbook", mend=mend)])
    try:
        if path.is_dir() or (path.exists() and path.stat().st_size):
            message = "is already there and may be filled in"
            raise UnusableInput([Problem(str(path), message=message, mend="choose another name")])
        write_whole(path, survey_book({}))
    except OSError as error:
        reason = error.strerror or "the folder is missing or closed to you"
        raise UnusableInput(
            [Problem(str(path), message=f"cannot be written: {reason}", mend="choose another place")]
        ) from None


def survey_book(sheets: Mapping[str, Sheet]) -> bytes:
    """The workbook of a survey, as .xlsx: with the cells of `sheets`, or empty and with an example in each sheet."""
    content = io.BytesIO()
    options = {"in_memory": True, "strings_to_urls": False, "strings_to_formulas": False}
    with xlsxwriter.Workbook(content, options) as book:
        _SurveyBook(book, sheets).write()
    return content.getvalue()


class _SurveyBook:
    """One workbook while it is written; `filled` are the sheets that it is filled with, if any."""

    def __init__(self, book: Any, filled: Mapping[str, Sheet]) -> None:
        self.book = book
        self.filled = filled
        book.set_properties(
            {"title": "Perimeter cavity barriers: survey and order", "created": datetime(2000, 1, 1)}
        )
        self.formats = TemplateFormats(book)

    def write(self) -> None:
        """All sheets, in the order in which they are filled in."""
        self.start()
        self.pairs("project", "field", [(name, "", note) for name, note in PROJECT])
        standard = Detail()
        self.pairs(
            "detail",
            "rule",
            [
                (rule, unit, f"{note} Blank: the placeholder {_shown(getattr(standard, rule))}.")
                for rule, (unit, note) in RULES.items()
            ],
        )
        for table, columns in SHEETS.items():
            self.table(table, columns)
        usual = SurveyLimits()
        self.pairs(
            "survey_limits",
            "rule",
            [
                (limit, unit, f"{note} Blank: the placeholder {_shown(getattr(usual, limit))}.")
                for limit, (unit, note) in LIMITS.items()
            ],
        )
        rates = CrewRates()
        self.pairs(
            "crew_rates",
            "rule",
            [
                (rate, unit, f"{note} Blank: the placeholder {_shown(getattr(rates, rate))}.")
                if unit != "money"
                else (rate, unit, note)
                for rate, (unit, note) in CREW.items()
            ],
        )
        self.notes()
        write_survey_form(self.sheet("survey", "#B5651D"), self.formats)

    def sheet(self, name: str, colour: str | None = None, landscape: bool = False) -> Any:
        sheet = self.book.add_worksheet(name)
        sheet.set_paper(9)  # A4; Letter printers scale it down
        sheet.set_margins(0.5, 0.5, 0.6, 0.6)
        sheet.fit_to_pages(1, 0)
        if landscape:
            sheet.set_landscape()
        sheet.set_footer("&L&8&A&R&8&P / &N")
        if colour:
            sheet.set_tab_color(colour)
        return sheet

    def start(self) -> None:
        sheet = self.sheet("start here", "#2F4858")
        sheet.hide_gridlines(2)
        sheet.set_column(0, 0, 16)
        sheet.set_column(1, 1, 88)
        sheet.write_string(0, 0, "Perimeter cavity barriers: survey and order", self.formats.title)
        for number, (what, words) in enumerate(START, 2):
            sheet.write_string(number, 0, what, self.formats.label)
            sheet.write_string(number, 1, words, self.formats.wrapped)
            sheet.set_row(number, 14 * -(-len(words) // 92) + 4)

    def pairs(self, name: str, key: str, rows: list[tuple[str, str, str]]) -> None:
        """A sheet of one value a row."""
        sheet = self.sheet(name)
        units = any(unit for _, unit, _ in rows)
        sheet.set_column(0, 0, 28)
        sheet.set_column(1, 1, 26)
        sheet.set_column(2, 2, 13 if units else 80)
        sheet.set_column(3, 3, 90)
        for column, heading in enumerate((key, "value", "unit", "note") if units else (key, "value", "note")):
            sheet.write_string(
                0, column, heading, self.formats.required if column == 1 else self.formats.optional
            )
        sheet.freeze_panes(1, 2)
        sheet.repeat_rows(0)
        for number, (field, unit, note) in enumerate(rows, 1):
            sheet.write_string(number, 0, field, self.formats.text)
            sheet.write_blank(number, 1, None, self.formats.input)
            self.fill(sheet, number, 1, self.value_of(name, number, 1), self.formats.input)
            if units:
                sheet.write_string(number, 2, unit, self.formats.text)
            sheet.write_string(number, 3 if units else 2, note, self.formats.note)
            self.validate_value(sheet, number, field, unit)
        self.more_details(sheet, name, 4)
        if name == "detail":
            words = (
                "Copy these from the tested detail that you hold: it decides, with local code and a licensed"
                " practitioner. Placeholders are common practice without a source."
            )
            sheet.write_comment(0, 1, words, {"x_scale": 2.4, "y_scale": 1.2})

    def value_of(self, name: str, row: int, column: int) -> Cell:
        """What a sheet of one value a row is filled with."""
        return self.filled[name][row][column] if self.filled else None

    def more_details(self, sheet: Any, name: str, column: int) -> None:
        """The details beside the project's own, each under its name."""
        for more, heading in enumerate(self.filled.get(name, ((),))[0][2:]):
            sheet.write_string(0, column + more, str(heading), self.formats.required)
            sheet.set_column(column + more, column + more, 20)
            for number in range(1, len(self.filled[name])):
                self.fill(
                    sheet, number, column + more, self.value_of(name, number, 2 + more), self.formats.input
                )

    def notes(self) -> None:
        """What reading the survey had to assume."""
        if NOTES in self.filled:
            sheet = self.sheet(NOTES)
            sheet.set_column(0, 0, 120)
            sheet.write_string(0, 0, "note", self.formats.optional)
            for number, (note,) in enumerate(self.filled[NOTES][1:], 1):
                sheet.write_string(number, 0, str(note), self.formats.wrapped)

    def fill(self, sheet: Any, row: int, column: int, value: Cell, style: Any) -> None:
        """Writes a value so that reading gives it again: numbers as numbers, which reading
        takes to 15 digits, more than any that it accepts; text as text."""
        if isinstance(value, date):
            styled = self.formats.input_date if style is self.formats.input else self.formats.columns["date"]
            sheet.write_datetime(row, column, datetime(value.year, value.month, value.day), styled)
        elif isinstance(value, (int, Decimal)):
            sheet.write_number(row, column, float(value), style)
        elif value is not None:
            sheet.write_string(row, column, value, style)

    def validate_value(self, sheet: Any, row: int, field: str, unit: str) -> None:
        if unit == "rate":
            self.validate(sheet, row, 1, row, "rate")
        elif unit == "mm":
            self.validate(sheet, row, 1, row, "position")
        elif unit == "number":
            self.validate(sheet, row, 1, row, "count")
        elif unit == "true or false":
            sheet.data_validation(row, 1, row, 1, {"validate": "list", "source": ["true", "false"]})
        elif field == "bracket_choice":
            choices = ["nearest", "cheapest", "fewest_sizes"]
            sheet.data_validation(row, 1, row, 1, {"validate": "list", "source": choices})

    def table(self, name: str, columns: tuple[TemplateColumn, ...]) -> None:
        """A sheet of one thing a row, with headings, a marked example and drop-downs."""
        sheet = self.sheet(name, landscape=len(columns) > 6)
        rows = self.filled.get(name, ())[1:]
        first = 1 if self.filled else 2  # below the headings, and the example of an empty workbook
        sheet.freeze_panes(first, 1)
        sheet.repeat_rows(0)
        sheet.set_row(0, 22)
        last = max(ROWS[name], len(rows)) + 1
        for index, column in enumerate(columns):
            style = self.formats.columns.get(
                {"position": "mm", "gap": "mm"}.get(column.takes, column.takes), self.formats.text
            )
            sheet.set_column(index, index, max(column.width, 20 if index == 0 else 0), style)
            sheet.write_string(0, index, column.heading, self.heading_style(column))
            needed = "Required. " if column.required else "May stay blank. "
            sheet.write_comment(0, index, needed + column.note, {"x_scale": 2, "y_scale": 0.9})
            if not self.filled:
                self.write_example(sheet, index, column)
            self.validate(sheet, first, index, last, column.takes)
            at = self.filled[name][0].index(column.heading) if self.filled else 0
            for number, row in enumerate(rows, first):
                self.fill(sheet, number, index, row[at], style)

    def heading_style(self, column: TemplateColumn) -> Any:
        """Headings stand over their numbers."""
        if column.takes in ("mm", "gap", "position", "count", "money", "simulated rate", "kilograms"):
            return self.formats.required_number if column.required else self.formats.optional_number
        return self.formats.required if column.required else self.formats.optional

    def write_example(self, sheet: Any, index: int, column: TemplateColumn) -> None:
        value = column.example
        if index == 0:
            sheet.write_string(1, 0, f"{EXAMPLE} {value}", self.formats.example_text)
        elif isinstance(value, date):
            sheet.write_datetime(
                1, index, datetime(value.year, value.month, value.day), self.formats.example_date
            )
        elif value is None:
            sheet.write_blank(1, index, None, self.formats.example)
        else:
            sheet.write(
                1, index, value, self.formats.example_text if isinstance(value, str) else self.formats.example
            )

    def validate(self, sheet: Any, first: int, index: int, last: int, takes: Values) -> None:
        """What a column's cells take, from the row `first` to the row `last`."""
        rule = rule_of(takes, self.names_of)
        if rule is not None:
            sheet.data_validation(first, index, last, index, rule)

    def names_of(self, table: str) -> str:
        """The cells with a table's names, as a formula."""
        last = max(ROWS[table], len(self.filled.get(table, ()))) + 2
        return f"={table}!$A${2 if self.filled else 3}:$A${last}"


def _shown(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)
