"""A project as the sheets that it can be read from again: headings and cells, for a workbook or a page to fill."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, time
from decimal import Decimal
from typing import Any

from optimiser.model.project import Project
from optimiser.reading.tables import CREW_RATES, DETAIL, NOTES, PROJECT, SURVEY_LIMITS, TABLES

Cell = str | int | Decimal | date | None
"""What stands in a cell. Yes and no are written as text, like several values, which are separated by spaces."""

Sheet = tuple[tuple[Cell, ...], ...]
"""A row of headings, then a row for each row of the table."""


def survey_sheets(project: Project) -> dict[str, Sheet]:
    """Every table of a project by its name: reading them gives the project again.

    A rule or field that the project does not state stays blank, so that it stands at its placeholder again. The names
    of details beside the project's own head columns of the sheet `detail`. `reading_notes` is there only where reading
    the survey had to assume something.
    """
    sheets: dict[str, Sheet] = {
        "project": _pairs("field", PROJECT, _stated(project.project)),
        "detail": _details(project),
        "survey_limits": _pairs("rule", SURVEY_LIMITS, _stated(project.survey_limits)),
        "crew_rates": _pairs("rule", CREW_RATES, _stated(project.crew_rates)),
    }
    for name, spec in TABLES.items():
        rows = [_stated(row) for row in getattr(project, name)]
        sheets[name] = (
            spec.names,
            *(tuple(cell_of(row.get(column)) for column in spec.names) for row in rows),
        )
    if project.reading_notes:
        sheets[NOTES] = (("note",), *((note,) for note in project.reading_notes))
    return sheets


def cell_of(value: Any) -> Cell:
    """A model's value as it is written in a cell: several values separated by spaces, a time of day as 07:00."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None or value == "" or value == ():
        return None
    if isinstance(value, tuple):
        parts = [str(part) for part in value]
        return value[0] if len(value) == 1 and isinstance(value[0], (int, date)) else " ".join(parts)
    if isinstance(value, time):
        return f"{value:%H:%M}"
    assert isinstance(value, (str, int, Decimal, date))
    return value


def text_of(cell: Cell) -> str:
    """A cell as text, as it stands in a csv file or a field of a page: 0.10, 2027-02-22, '' for a blank."""
    if cell is None:
        return ""
    return format(cell, "f") if isinstance(cell, Decimal) else str(cell)


def _stated(row: Any) -> dict[str, Any]:
    """What a row states, by the columns' names; what stands at its placeholder is left out."""
    stated: dict[str, Any] = row.model_dump(by_alias=True, exclude_unset=True)
    return stated


def _pairs(key: str, known: Iterable[str], stated: Mapping[str, Any]) -> Sheet:
    return ((key, "value"), *((name, cell_of(stated.get(name))) for name in known))


def _details(project: Project) -> Sheet:
    """The rules with the project's own detail under `value` and every other under its name."""
    columns = [_stated(project.detail), *(_stated(detail) for detail in project.details.values())]
    return (
        ("rule", "value", *project.details),
        *((rule, *(cell_of(stated.get(rule)) for stated in columns)) for rule in DETAIL),
    )
