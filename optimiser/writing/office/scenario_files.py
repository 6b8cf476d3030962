"""Scenarios side by side as `scenarios.csv` and `scenarios.xlsx`: the same columns; the workbook also holds every
warning, what the figures rest on, and what the headings mean."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.studies.scenario_result import ScenarioComparison
from optimiser.tables.columns import Column
from optimiser.tables.scenarios import scenario_columns
from optimiser.tables.text import csv_of
from optimiser.writing.office.workbook_table import explain_headings
from optimiser.writing.spreadsheet import Book


@dataclass(frozen=True)
class _Warning:
    """A warning of a scenario's plan."""

    scenario: str
    says: str


_WARNINGS = (Column("scenario", "Scenario", width=20), Column("says", "Warning", "long text", 120))


def scenarios_csv(found: ScenarioComparison) -> str:
    """The text of `scenarios.csv` (RFC 4180: commas, CRLF), a row a scenario."""
    return csv_of(scenario_columns(found.currency), found.results)


def scenarios_xlsx(found: ScenarioComparison, name: str, paper: str = "A4") -> bytes:
    """The workbook of a comparison; `name` is the building's."""
    book = Book(f"Scenarios: {name}" if name else "Scenarios", found.currency, paper)
    columns = scenario_columns(found.currency)
    sheet = book.sheet("Scenarios")
    end = book.table(sheet, 0, columns, found.results)
    end = book.paragraphs(sheet, end + 1, "What the figures rest on", found.notes)
    explain_headings(book, sheet, end, columns)
    told = [
        _Warning(result.scenario.name, warning)
        for result in found.results
        for warning in (result.figures.warnings if result.figures else ())
    ]
    if told:
        book.table(book.sheet("Warnings"), 0, _WARNINGS, told)
    return book.content()
