"""The sheet of the workbook that is printed and filled in by hand at the slab edge."""

from __future__ import annotations

from typing import Any

from optimiser.planning.warnings import CAUTIONS
from optimiser.writing.office.template_formats import TemplateFormats
from optimiser.writing.office.template_texts import SURVEY_STEPS

SURVEY_LINES = 30


def write_survey_form(sheet: Any, formats: TemplateFormats) -> None:
    """Writes the form on an empty sheet: whose survey it is, how it is done, lines to fill in, the cautions."""
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, 15, formats.text)
    sheet.set_column(1, 2, 15)
    sheet.set_column(3, 3, 15)
    sheet.set_column(4, 4, 40)
    sheet.set_row(0, 26)
    sheet.merge_range(0, 0, 0, 4, "Gap survey", formats.title)
    for number, (left, right) in enumerate((("Project", "Level"), ("Surveyed by", "Date")), 1):
        sheet.set_row(number, 22)
        sheet.write_string(number, 0, left, formats.label)
        sheet.merge_range(number, 1, number, 2, "", formats.boxed)
        sheet.write_string(number, 3, right, formats.label_right)
        sheet.write_blank(number, 4, None, formats.boxed)
    sheet.set_row(3, 8)
    row = 4
    for words in SURVEY_STEPS:
        sheet.set_row(row, 15 * -(-len(words) // 115))
        sheet.merge_range(row, 0, row, 4, words, formats.wrapped)
        row += 1
    headings = (
        "run",
        "at_mm from the run's start",
        "gap_mm",
        "mullion here? at_mm",
        "remark (slab edge, services, access)",
    )
    sheet.set_row(row, 30)
    for column, heading in enumerate(headings):
        sheet.write_string(row, column, heading, formats.boxed_head)
    for line in range(row + 1, row + 1 + SURVEY_LINES):
        sheet.set_row(line, 22)
        for column in range(5):
            sheet.write_blank(line, column, None, formats.boxed)
    row += SURVEY_LINES + 1
    sheet.set_row(row, 22)
    sheet.write_string(row, 0, "At the slab edge", formats.label_low)
    row += 1
    for words in CAUTIONS:
        if "ASTM" in words or "EN 1366-4" in words:
            continue  # they concern the detail, not the survey
        sheet.set_row(row, 12 * -(-len(words) // 150) + 1)
        sheet.merge_range(row, 0, row, 4, words, formats.caution)
        row += 1
    sheet.print_area(0, 0, row - 1, 4)
    sheet.fit_to_pages(1, 1)
