"""A document's tables into one `Project`, or every reason why not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

from optimiser.errors.problems import CellError, Problem, ProblemList, UnusableInput, shown
from optimiser.model.detail import IN_ORDER
from optimiser.model.parties import Party
from optimiser.model.products import PRODUCT_OF_KIND
from optimiser.model.project import (
    Allowance,
    CrewRates,
    DeliveryLimits,
    Detail,
    Gap,
    Heading,
    Level,
    PriceBreak,
    Project,
    Run,
    Stock,
    SurveyLimits,
)
from optimiser.reading.as_written import ReadAs, ReadingNotes
from optimiser.reading.cells import Parser, closest
from optimiser.reading.columns import WRONG_UNITS, TableSpec, folded
from optimiser.reading.cross_checks import cross_check
from optimiser.reading.documents import REPORTED, Document, RawField
from optimiser.reading.edge_checks import check_edges
from optimiser.reading.gap_rows import widen_to_top_and_bottom
from optimiser.reading.read_row import ReadRow
from optimiser.reading.tables import CREW_RATES, DETAIL, ORDER, PROJECT, SURVEY_LIMITS, TABLES

MODELS: Mapping[str, type[Any]] = {
    "levels": Level,
    "runs": Run,
    "gaps": Gap,
    "stock": Stock,
    "allowance": Allowance,
    "deliveries": DeliveryLimits,
    "price_breaks": PriceBreak,
    "parties": Party,
}


def assemble(document: Document, problems: ProblemList) -> Project:
    """The project of a document.

    `problems` may already hold faults of the file itself. Raises UnusableInput with those and all others.
    """
    heading = _fields(document.project, PROJECT, "project", problems)
    _window_opens_before_it_closes(heading, document.project, problems)
    rules = _fields(document.detail, DETAIL, "detail", problems)
    detail = _detail(rules, document.detail, problems)
    limits = _fields(document.survey_limits, SURVEY_LIMITS, "survey_limits", problems)
    rates = _fields(document.crew_rates, CREW_RATES, "crew_rates", problems)
    notes = ReadingNotes()
    read = {name: _rows(document, spec, notes, problems) for name, spec in TABLES.items()}
    if "gaps" in document.tables:
        widen_to_top_and_bottom(document.tables["gaps"], read["gaps"], notes, problems)
    details = _named_details(document, read["runs"], problems)
    cross_check(document, read, problems)
    check_edges(document, read, {"": detail or Detail(), **details}, problems)
    models: dict[str, Any] = {name: _models(document, name, rows, problems) for name, rows in read.items()}
    problems.raise_if_any(ORDER)
    try:
        return Project(
            project=Heading(**heading),
            detail=detail or Detail(),
            details=details,
            survey_limits=SurveyLimits(**limits),
            crew_rates=CrewRates(**rates),
            reading_notes=(*document.notes, *notes.sentences()),
            **models,
        )
    except ValidationError as error:  # a rule of the models that the checks above do not know yet
        for fault in error.errors():
            message = fault["msg"].removeprefix("Value error, ")
            problems.add(Problem("" if document.is_json else "project", message=message, mend="correct it"))
        problems.raise_if_any(ORDER)
        raise UnusableInput(()) from None


def _fields(
    fields: Iterable[RawField], known: Mapping[str, Parser], table: str, problems: ProblemList
) -> dict[str, Any]:
    found: dict[str, Any] = {}
    seen: set[str] = set()
    for item in fields:
        name = _field_meant(item.name, known)
        if name is None:
            meant = closest(folded(item.name), known)
            if table != "project":
                mend = f"write {meant}" if meant else "take it out; the known rules are " + ", ".join(known)
                problems.add(item.problem(f"{shown(item.name)} is no rule that is known here", mend))
            elif meant and item.value not in (None, ""):
                problems.add(item.problem(f"{shown(item.name)} is not known", f"write {meant}"))
            continue
        if item.value is None or item.value is REPORTED:
            continue
        if name in seen:
            problems.add(item.problem("is given twice", "keep one of them"))
            continue
        seen.add(name)
        if name.endswith("_mm") and isinstance(item.unit, str) and folded(item.unit) in WRONG_UNITS:
            problems.add(item.problem(f"its unit is {shown(item.unit)}", "write it in mm"))
            continue
        try:
            found[name] = known[name](item.value)
        except CellError as slip:
            problems.add(item.problem(slip.message, slip.mend))
    return found


def _window_opens_before_it_closes(
    heading: Mapping[str, Any], given: Iterable[RawField], problems: ProblemList
) -> None:
    opens, closes = heading.get("delivery_from"), heading.get("delivery_until")
    if opens and closes and opens >= closes:
        placed = {_field_meant(item.name, PROJECT): item for item in given}
        message = f"delivery_from ({opens:%H:%M}) is not before delivery_until ({closes:%H:%M})"
        problems.add(
            placed["delivery_until"].problem(message, "write the time by which a truck must have come")
        )


def _field_meant(heading: str, known: Mapping[str, Parser]) -> str | None:
    plain = folded(heading)
    for candidate in (plain, f"{plain}_mm", plain.removesuffix("_mm")):
        if candidate in known:
            return candidate
    return None


def _named_details(document: Document, runs: Iterable[ReadRow], problems: ProblemList) -> dict[str, Detail]:
    """The details beside the project's own, by name. A column of the detail's sheet that no run names and that holds
    anything but values of rules is the user's own and is left alone."""
    named = {row.values.get("detail") for row in runs}
    found: dict[str, Detail] = {}
    for name, given in (*document.details.items(), *document.maybe_details.items()):
        told = problems if name in named or name in document.details else ProblemList()
        before = len(told.found)
        detail = _detail(_fields(given, DETAIL, "detail", told), given, told)
        if told is problems or (given and len(told.found) == before):
            found[name] = detail or Detail()
    return found


def _detail(rules: dict[str, Any], given: Iterable[RawField], problems: ProblemList) -> Detail | None:
    placed = {_field_meant(item.name, DETAIL): item for item in given}
    standard = Detail()
    sound = True
    for low, high in IN_ORDER:
        one, other = (rules.get(name, getattr(standard, name)) for name in (low, high))
        if one > other and (low in rules or high in rules):
            sound = False
            wrong = low if low in rules else high
            absent = [name for name in (low, high) if name not in rules]
            note = f"; {absent[0]} is not given and stands at its placeholder" if absent else ""
            message = f"{low} ({one}) is above {high} ({other}){note}"
            problems.add(placed[wrong].problem(message, f"{low} must be at most {high}"))
    return Detail(**rules) if sound else None


def _rows(document: Document, spec: TableSpec, notes: ReadingNotes, problems: ProblemList) -> list[ReadRow]:
    table = document.tables.get(spec.name)
    if table is None:
        return []
    if not table.rows and spec.required and spec.name not in document.missing_noted:
        problems.add(
            table.places.problem(
                None, None, None, "nothing is filled in", f"write a row for {spec.row_means}"
            )
        )
    parsers = {column.name: column.parse for column in spec.columns}
    needed = [
        column
        for column in spec.columns
        if column.required and not table.columns.isdisjoint((column.name, *column.instead))
    ]
    all_columns = len(needed) == sum(column.required for column in spec.columns)
    found = []
    for row in table:
        values: dict[str, Any] = {}
        besides: dict[str, Any] = {}
        whole = True
        for column, cell in row.cells.items():
            if cell is REPORTED:
                whole = False
                continue
            try:
                read = parsers[column](cell)
            except CellError as slip:
                whole = False
                problems.add(table.places.problem(row.number, column, cell, slip.message, slip.mend))
                continue
            if isinstance(read, ReadAs):
                notes.add(table.places, spec.name, row.number, column, cell, read)
                values[column] = read.value
                besides |= read.row
            else:
                values[column] = read
        values |= besides
        for wanted in needed:
            if row.cells.keys().isdisjoint((wanted.name, *wanted.instead)):
                whole = False
                problems.add(table.places.problem(row.number, wanted.name, None, "is missing", wanted.mend))
        found.append(ReadRow(row.number, values, row.cells, whole and all_columns))
    return found


def _models(document: Document, name: str, rows: list[ReadRow], problems: ProblemList) -> tuple[Any, ...]:
    table = document.tables.get(name)
    if table is None:
        return ()
    found = []
    for row in rows:
        if not row.whole:
            continue
        try:
            made = PRODUCT_OF_KIND[row.values["kind"]] if name == "products" else MODELS[name]
            found.append(made(**row.values))
        except ValidationError as error:
            for fault in error.errors():
                column = str(fault["loc"][0]) if fault["loc"] else None
                message = fault["msg"].removeprefix("Value error, ")
                problems.add(
                    table.places.problem(
                        row.number, column, row.raw.get(column or ""), message, "correct the row"
                    )
                )
    return tuple(found)
