"""A part of a kept survey as cells of text, and the cells that come back into its next version.

What reads them runs in a limited process, like an upload: everything that crosses is text or plain values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from api.projects.reading import ReadProject, kept_project, summarised, unusable

if TYPE_CHECKING:
    from optimiser.writing.office.survey_changes import SurveyChange

Rows = tuple[tuple[str, ...], ...]

TABLES = (
    "gaps", "levels", "runs", "products", "price_breaks", "allowance", "stock", "deliveries", "detail", "project",
    "parties", "survey_limits", "crew_rates",
)  # fmt: skip
"""The tables that can be edited, those first that change most."""

DOWN = ("project", "detail", "survey_limits", "crew_rates", "deliveries")
"""Tables of one value a row, whose first column is not the user's to change."""

BY_LEVEL = ("gaps", "runs")
"""Tables that are shown a level at a time."""


@dataclass(frozen=True)
class Part:
    """A table of a survey, or its rows of one level; '' is all of them."""

    table: str
    level: str = ""


@dataclass(frozen=True)
class PartCells:
    """A part as it stands: its headings and rows, the levels there are, and words that its columns may take."""

    heads: tuple[str, ...]
    rows: Rows
    levels: tuple[str, ...]
    choices: dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class CellFault:
    """A fault of the edited survey. `row` and `column` are its cell in the part, from 0; None where it lies
    elsewhere, and `place` names the sheet and row."""

    row: int | None
    column: int | None
    place: str
    value: str
    message: str
    mend: str


class Faulty(Exception):  # noqa: N818
    """The edited survey cannot be used: every fault, and how many more there are."""

    def __init__(self, faults: tuple[CellFault, ...], more: int) -> None:
        super().__init__(faults, more)
        self.faults, self.more = faults, more


@dataclass(frozen=True)
class EditedSurvey:
    """The next version, and by table what it changes; `changed` is empty where nothing does."""

    project: ReadProject
    changed: dict[str, str]


def part_cells(text: str, part: Part) -> PartCells:
    """The cells of a part of a kept project. Raises KeyError for a table that there is not."""
    sheets = _text_sheets(text)
    heads, rows = sheets[part.table][0], sheets[part.table][1:]
    if part.table == "deliveries":
        heads, rows = _turned(heads, rows)
    of_level = _rows_of_level(sheets, part)
    shown = tuple(row for number, row in enumerate(rows) if of_level is None or number in of_level)
    return PartCells(heads, shown, tuple(_column(sheets["levels"], "level")), _choices(sheets, part.table))


def edited_survey(text: str, part: Part, rows: Sequence[Sequence[str]]) -> EditedSurvey:
    """A kept project with the rows of a part in the place of those it had. Blank rows are left out.

    Raises Faulty with every fault, each at its cell, and KeyError for a table that there is not.
    """
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading import project_from_sheets
    from optimiser.writing.office.survey_changes import counts_by_table, survey_changes

    sheets = _text_sheets(text)
    heads, before = sheets[part.table][0], sheets[part.table][1:]
    sent = tuple(tuple(cell.strip() for cell in row) for row in rows)
    if part.table == "deliveries":
        heads, start = tuple(row[0] for row in sent), 0
        new: Rows = (tuple(row[1] for row in sent),)
    else:
        of_level = _rows_of_level(sheets, part)
        replaced = range(len(before)) if of_level is None else of_level
        start = min(replaced, default=len(before))
        kept = [(number, row) for number, row in enumerate(before) if number not in set(replaced)]
        new = (
            *(row for number, row in kept if number < start),
            *sent,
            *(row for number, row in kept if number >= start),
        )
    sheets[part.table] = (heads, *new)
    try:
        project = project_from_sheets(sheets)
    except UnusableInput as error:
        found = unusable(error)
        raise Faulty(tuple(_cell_faults(found.faults, part, heads, start, len(sent))), found.more) from None
    changes = survey_changes(kept_project(text), project)
    return EditedSurvey(summarised(project), counts_by_table(changes))


def needed_on_other_days(text: str, needs: Mapping[str, str]) -> EditedSurvey:
    """A kept project with other days (ISO 8601) on which levels are needed; levels that it has not are left out.

    Raises Faulty where it cannot be used so.
    """
    part = Part("levels")
    cells = part_cells(text, part)
    level, needed_on = cells.heads.index("level"), cells.heads.index("needed_on")
    rows = [
        (*row[:needed_on], needs.get(row[level], row[needed_on]), *row[needed_on + 1 :]) for row in cells.rows
    ]
    return edited_survey(text, part, rows)


def survey_workbook_of(text: str) -> bytes:
    """A kept project as the workbook that it can be read from again."""
    from optimiser.writing.office.survey_workbook import survey_workbook

    return survey_workbook(kept_project(text))


def changes_between(before: str, after: str) -> tuple[SurveyChange, ...]:
    """What a version of a survey changes of an earlier one."""
    from optimiser.writing.office.survey_changes import survey_changes

    return survey_changes(kept_project(before), kept_project(after))


def _text_sheets(text: str) -> dict[str, Rows]:
    from optimiser.writing.office.survey_sheets import survey_sheets, text_of

    return {
        name: tuple(tuple(text_of(cell) for cell in row) for row in rows)
        for name, rows in survey_sheets(kept_project(text)).items()
    }


def _turned(heads: tuple[str, ...], rows: Rows) -> tuple[tuple[str, ...], Rows]:
    """A table of one row as a row for each of its columns."""
    values = rows[0] if rows else ("",) * len(heads)
    return ("limit", "value"), tuple(zip(heads, values, strict=True))


def _rows_of_level(sheets: dict[str, Rows], part: Part) -> list[int] | None:
    """The numbers of a table's rows that are of the part's level; None where it is the whole table."""
    if not part.level or part.table not in BY_LEVEL:
        return None
    runs = {
        run
        for run, level in zip(_column(sheets["runs"], "run"), _column(sheets["runs"], "level"), strict=True)
        if level == part.level
    }
    return [number for number, run in enumerate(_column(sheets[part.table], "run")) if run in runs]


def _column(sheet: Rows, name: str) -> list[str]:
    at = sheet[0].index(name)
    return [row[at] for row in sheet[1:]]


def _choices(sheets: dict[str, Rows], table: str) -> dict[str, tuple[str, ...]]:
    """What the columns of a table may take, where that is a name of another table or one of few words."""
    products = list(
        zip(_column(sheets["products"], "code"), _column(sheets["products"], "kind"), strict=True)
    )
    boards = tuple(code for code, kind in products if kind == "board")
    kinds = ("board", "bracket", "anchor", "tape")
    of: dict[str, dict[str, tuple[str, ...]]] = {
        "gaps": {"run": tuple(_column(sheets["runs"], "run")), "basis": ("measured", "nominal")},
        "runs": {
            "level": tuple(_column(sheets["levels"], "level")),
            "board": boards,
            "joins": tuple(_column(sheets["runs"], "run")),
            "detail": sheets["detail"][0][2:],
        },
        "products": {"kind": kinds},
        "allowance": {"kind": kinds},
        "stock": {"code": boards, "level": tuple(_column(sheets["levels"], "level"))},
        "price_breaks": {"code": tuple(code for code, _ in products)},
        "parties": {"party": ("buyer", "supplier", "deliver_to")},
    }
    return {column: words for column, words in of.get(table, {}).items() if words}


def _cell_faults(
    faults: Iterable[dict[str, Any]], part: Part, heads: tuple[str, ...], start: int, count: int
) -> Iterable[CellFault]:
    """The faults with their cells in the part; those of other rows and tables stay outside it."""
    for fault in faults:
        row: int | None = None
        column: int | None = None
        if fault["table"] == part.table and fault["row"] is not None:
            row, column = fault["row"] - 2 - start, _column_of(fault, heads)
            if part.table == "deliveries":
                row, column = column, 1
            elif not 0 <= row < count:
                row = column = None
        value = "" if fault["value"] is None else str(fault["value"])[:60]
        yield CellFault(row, column, fault["place"], value, fault["message"], fault["mend"] or "")


def _column_of(fault: dict[str, Any], heads: tuple[str, ...]) -> int | None:
    """Where a fault's cell stands: by its column's letters, else by the column's name."""
    letters = (fault["cell"] or "").rstrip("0123456789")
    if letters.isalpha():
        at = 0
        for letter in letters:
            at = at * 26 + ord(letter) - 64
        return at - 1 if at <= len(heads) else None
    return heads.index(fault["column"]) if fault["column"] in heads else None
