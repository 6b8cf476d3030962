"""Which sheet or csv file holds which table, by its name, and the document of them all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.errors.problems import Problem, ProblemList
from optimiser.reading.cells import closest
from optimiser.reading.columns import folded
from optimiser.reading.documents import Document
from optimiser.reading.grids import Grid, blank, details_of_grid, fields_of_grid, table_of_grid
from optimiser.reading.tables import CREW_RATES, DETAIL, FIELDS, NOTES, PROJECT, SURVEY_LIMITS, TABLES


def named_sheets(names: Sequence[str], problems: ProblemList, what: str) -> dict[str, str]:
    """Which sheet (or file) holds each table: {table: name}. Adds a problem for each required one missing,
    naming the sheet that was probably meant."""
    found: dict[str, str] = {}
    strangers = []
    for name in names:
        plain = folded(name)
        table = next((table for table in (*TABLES, *FIELDS, NOTES) if plain == table), None)
        if table is None:
            strangers.append(name)
        elif table in found:
            problems.add(Problem(name, message=f"there are two {what}s for {table}", mend="keep one of them"))
        else:
            found[table] = name
    for table in (*FIELDS, *TABLES):
        if table in found:
            continue
        meant = closest(table, strangers, 0.7)
        required = table in TABLES and TABLES[table].required
        if meant is not None:
            problems.add(Problem(meant, message=f"there is no {what} {table}, and this looks like it",
                                 mend=f"name it {table}"))  # fmt: skip
            strangers.remove(meant)
        elif required:
            columns = ", ".join(TABLES[table].names)
            problems.add(
                Problem(table, message=f"the {what} is missing", mend=f"add it, with the columns {columns}")
            )
    return found


def document_of_grids(
    grids: Mapping[str, tuple[str, Grid]], problems: ProblemList
) -> tuple[Document, dict[str, dict[str, int]]]:
    """A document of the grids {table: (sheet's name, cells)}, and the index of each table's columns."""
    document = Document()
    columns: dict[str, dict[str, int]] = {}
    for table, (sheet, grid) in grids.items():
        if table == "project":
            document.project = fields_of_grid(grid, table, PROJECT, sheet, problems)
        elif table == "detail":
            document.detail = fields_of_grid(grid, table, DETAIL, sheet, problems)
            document.maybe_details = details_of_grid(grid, DETAIL, sheet)
        elif table == "survey_limits":
            document.survey_limits = fields_of_grid(grid, table, SURVEY_LIMITS, sheet, problems)
        elif table == "crew_rates":
            document.crew_rates = fields_of_grid(grid, table, CREW_RATES, sheet, problems)
        elif table == NOTES:
            document.notes = tuple(str(row[0]) for row in grid[1:] if row and not blank(row[0]))
        else:
            before = len(problems.found)
            document.tables[table], columns[table] = table_of_grid(grid, TABLES[table], sheet, problems)
            if len(problems.found) > before:
                document.missing_noted.add(table)
    return document, columns
