"""A document's tables into one `Project`, or every reason why not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import ValidationError

from optimiser.project import (
    Allowance,
    DeliveryLimits,
    Detail,
    Gap,
    Heading,
    Level,
    PriceBreak,
    Product,
    Project,
    Run,
    Stock,
)
from optimiser.reading.cells import Parser, closest
from optimiser.reading.cross_checks import ReadRow, cross_check
from optimiser.reading.documents import REPORTED, Document, RawField
from optimiser.reading.problems import Problem, ProblemList, Slip, UnusableInput, shown
from optimiser.reading.tables import DETAIL, ORDER, PROJECT, TABLES, WRONG_UNITS, TableSpec, folded

MODELS: Mapping[str, type[Any]] = {
    "products": Product,
    "levels": Level,
    "runs": Run,
    "gaps": Gap,
    "stock": Stock,
    "allowance": Allowance,
    "deliveries": DeliveryLimits,
    "price_breaks": PriceBreak,
}


def assemble(document: Document, problems: ProblemList) -> Project:
    """The project of a document.

    `problems` may already hold faults of the file itself. Raises UnusableInput with those and all others.
    """
    heading = _fields(document.project, PROJECT, "project", problems)
    rules = _fields(document.detail, DETAIL, "detail", problems)
    detail = _detail(rules, document, problems)
    read = {name: _rows(document, spec, problems) for name, spec in TABLES.items()}
    cross_check(document, read, problems)
    models = {name: _models(document, name, rows, problems) for name, rows in read.items()}
    problems.raise_if_any(ORDER)
    try:
        return Project(project=Heading(**heading), detail=detail or Detail(), **models)
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
            if table == "detail":
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
        except Slip as slip:
            problems.add(item.problem(slip.message, slip.mend))
    return found


def _field_meant(heading: str, known: Mapping[str, Parser]) -> str | None:
    plain = folded(heading)
    for candidate in (plain, f"{plain}_mm", plain.removesuffix("_mm")):
        if candidate in known:
            return candidate
    return None


def _detail(rules: dict[str, Any], document: Document, problems: ProblemList) -> Detail | None:
    placed = {_field_meant(item.name, DETAIL): item for item in document.detail}
    standard = Detail()
    sound = True
    for low, high in (
        ("oversize_min", "oversize_max"),
        ("gap_min_mm", "gap_max_mm"),
        ("bracket_insertion_min", "bracket_insertion"),
        ("bracket_insertion", "bracket_insertion_max"),
    ):
        one, other = (rules.get(name, getattr(standard, name)) for name in (low, high))
        if one > other and (low in rules or high in rules):
            sound = False
            given = low if low in rules else high
            absent = [name for name in (low, high) if name not in rules]
            note = f"; {absent[0]} is not given and stands at its placeholder" if absent else ""
            message = f"{low} ({one}) is above {high} ({other}){note}"
            problems.add(placed[given].problem(message, f"{low} must be at most {high}"))
    return Detail(**rules) if sound else None


def _rows(document: Document, spec: TableSpec, problems: ProblemList) -> list[ReadRow]:
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
    needed = [column for column in spec.columns if column.required and column.name in table.columns]
    all_columns = len(needed) == sum(column.required for column in spec.columns)
    found = []
    for row in table:
        values: dict[str, Any] = {}
        whole = True
        for column, cell in row.cells.items():
            if cell is REPORTED:
                whole = False
                continue
            try:
                values[column] = parsers[column](cell)
            except Slip as slip:
                whole = False
                problems.add(table.places.problem(row.number, column, cell, slip.message, slip.mend))
        for wanted in needed:
            if wanted.name not in row.cells:
                whole = False
                problems.add(table.places.problem(row.number, wanted.name, None, "is missing", wanted.mend))
        found.append(ReadRow(row.number, values, row.cells, whole and all_columns))
    return found


def _models(document: Document, name: str, rows: list[ReadRow], problems: ProblemList) -> tuple[Any, ...]:
    table, model = document.tables.get(name), MODELS[name]
    if table is None:
        return ()
    found = []
    for row in rows:
        if not row.whole:
            continue
        try:
            found.append(model(**row.values))
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
