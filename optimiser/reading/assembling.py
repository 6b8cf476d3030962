"""A document's tables into one `Project`, or every reason why not."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from optimiser.project import Allowance, Detail, Gap, Heading, Level, Product, Project, Run, Stock
from optimiser.reading.cells import Parser, Slip, closest
from optimiser.reading.documents import REPORTED, Document, JsonPlaces, RawField, RawTable
from optimiser.reading.problems import Problem, ProblemList, UnusableInput, shown
from optimiser.reading.tables import DETAIL, ORDER, PROJECT, TABLES, WRONG_UNITS, TableSpec, folded

MODELS: Mapping[str, type[Any]] = {
    "products": Product,
    "levels": Level,
    "runs": Run,
    "gaps": Gap,
    "stock": Stock,
    "allowance": Allowance,
}
SMALLEST_BOARD_MM = 50  # a board of 1 is one of 1 metre
SHORTEST_ROLL_MM = 1000  # a roll of 45 is one of 45 metres


@dataclass
class ReadRow:
    """A row whose cells are read: what could be read of it, as written, and whether all could."""

    number: int
    values: dict[str, Any]
    raw: Mapping[str, object]
    whole: bool


def assemble(document: Document, problems: ProblemList) -> Project:
    """The project of a document.

    `problems` may already hold faults of the file itself. Raises UnusableInput with those and all others.
    """
    heading = _fields(document.project, PROJECT, "project", problems)
    rules = _fields(document.detail, DETAIL, "detail", problems)
    detail = _detail(rules, document, problems)
    read = {name: _rows(document, spec, problems) for name, spec in TABLES.items()}
    _cross_check(document, read, problems)
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


class _References:
    """Names that other tables refer to, with a suggestion for an unknown one."""

    def __init__(self, names: Iterable[str], where: str) -> None:
        self.names = frozenset(names)
        self.where = where
        self._suggested: dict[str, str] = {}

    def mend(self, wrong: str, problems: ProblemList) -> str:
        """What to write in place of an unknown name."""
        if problems.plenty:
            return f"add it to {self.where}"
        if wrong not in self._suggested:
            meant = closest(wrong, sorted(self.names)[:2000])
            add = f"add it to {self.where}"
            self._suggested[wrong] = f"write {meant}, or {add}" if meant else add
        return self._suggested[wrong]


def _cross_check(document: Document, read: Mapping[str, list[ReadRow]], problems: ProblemList) -> None:
    """Duplicates, references, positions and sizes over all tables; unreadable rows still count as names."""
    tables = document.tables

    def fault(name: str, row: ReadRow, column: str, message: str, mend: str) -> None:
        row.whole = False
        places = tables[name].places
        problems.add(places.problem(row.number, column, row.raw.get(column), message, mend))

    for name, key in (("products", "code"), ("levels", "level"), ("runs", "run"), ("allowance", "kind")):
        first: dict[str, int] = {}
        for row in read[name]:
            if key in row.values:
                word = row.values[key]
                if word in first:
                    where = _told(tables[name], first[word])
                    fault(name, row, key, f"is already in {where}", "keep one of the two")
                else:
                    first[word] = row.number

    for row in read["products"]:
        _sizes_of_product(row, fault)

    products = _References(
        (row.values["code"] for row in read["products"] if "code" in row.values), "products"
    )
    kinds: defaultdict[str, list[str]] = defaultdict(list)
    for row in read["products"]:
        if "code" in row.values:
            kinds[row.values["code"]].append(row.values.get("kind", "board"))
    other_kinds = {code: found[0] for code, found in kinds.items() if "board" not in found}
    boards = _References(products.names - other_kinds.keys(), "products")
    levels = _References((row.values["level"] for row in read["levels"] if "level" in row.values), "levels")
    runs = _References((row.values["run"] for row in read["runs"] if "run" in row.values), "runs")

    def board_exists(name: str, row: ReadRow, column: str, code: str) -> None:
        if code in boards.names or not products.names:
            return
        if code in other_kinds:
            fault(
                name,
                row,
                column,
                f"{shown(code)} is a {other_kinds[code]}, not a board",
                "write a board's code",
            )
        else:
            fault(name, row, column, f"{shown(code)} is no product", boards.mend(code, problems))

    for row in read["runs"]:
        if levels.names and "level" in row.values and row.values["level"] not in levels.names:
            fault("runs", row, "level", "there is no such level", levels.mend(row.values["level"], problems))
        if "board" in row.values:
            written = row.values["board"]
            if isinstance(written, str):
                written = (written,) if written in products.names else tuple(re.split(r"[\s,;]+", written))
                row.values["board"] = written = tuple(code for code in written if code)
            for code in written:
                board_exists("runs", row, "board", code)
        length = row.values.get("length_mm")
        for mullion in row.values.get("mullions_mm", ()):
            if length is not None and mullion > length:
                fault(
                    "runs", row, "mullions_mm", f"the mullion at {mullion} lies beyond the end at {length}",
                    "measure mullions from the run's start",
                )  # fmt: skip
    if "gaps" in tables:
        _check_gaps(tables["gaps"], read, runs, fault, problems)
    if any("run" in row.values for row in read["gaps"]):
        surveyed = {row.values["run"] for row in read["gaps"] if "run" in row.values}
        for row in read["runs"]:
            if "run" in row.values and row.values["run"] not in surveyed:
                fault("runs", row, "run", "has no gap", "measure it and add its gaps to gaps")
    for row in read["stock"]:
        if "code" in row.values:
            board_exists("stock", row, "code", row.values["code"])
        if levels.names and "level" in row.values and row.values["level"] not in levels.names:
            fault("stock", row, "level", "there is no such level", levels.mend(row.values["level"], problems))


def _check_gaps(
    table: RawTable, read: Mapping[str, list[ReadRow]], runs: _References, fault: Any, problems: ProblemList
) -> None:
    lengths = {
        row.values["run"]: row.values["length_mm"]
        for row in read["runs"]
        if "run" in row.values and "length_mm" in row.values
    }
    unknown: defaultdict[str, list[ReadRow]] = defaultdict(list)
    seen: dict[tuple[str, int], int] = {}
    for row in read["gaps"]:
        run, at_mm = row.values.get("run"), row.values.get("at_mm")
        if run is None:
            continue
        if runs.names and run not in runs.names:
            unknown[run].append(row)
            continue
        if at_mm is None:
            continue
        if at_mm > lengths.get(run, at_mm):
            fault(
                "gaps", row, "at_mm", f"lies beyond the end of run {run} at {lengths[run]}",
                "measure positions from the run's start, or correct the run's length",
            )  # fmt: skip
        if (run, at_mm) in seen:
            where = _told(table, seen[run, at_mm])
            fault(
                "gaps", row, "at_mm", f"run {run} has a gap here already, in {where}", "keep one of the two"
            )
        seen.setdefault((run, at_mm), row.number)
    for run, rows in unknown.items():
        for row in rows:
            row.whole = False
        more = f" (and in {len(rows) - 1} more row{'s' if len(rows) > 2 else ''})" if len(rows) > 1 else ""
        fault("gaps", rows[0], "run", f"there is no such run{more}", runs.mend(run, problems))


def _sizes_of_product(row: ReadRow, fault: Any) -> None:
    kind, values = row.values.get("kind"), row.values
    wanted = {"board": ("length_mm", "width_mm"), "bracket": ("length_mm",), "tape": ("length_mm",)}
    why = {"bracket": "its reach into the gap", "tape": "the length of a roll", "board": "its size"}
    for column in wanted.get(kind or "", ()):
        if column not in row.raw:
            fault("products", row, column, f"is missing for this {kind}", f"write {why[kind or '']} in mm")
        elif column in values:
            least = {"board": SMALLEST_BOARD_MM, "tape": SHORTEST_ROLL_MM}.get(kind or "", 1)
            if values[column] < least:
                fault(
                    "products", row, column, f"is absurdly small for a {kind} in mm",
                    f"if it is in metres, write {values[column] * 1000}",
                )  # fmt: skip


def _told(table: RawTable, number: int) -> str:
    """Where a row stands, inside a message about another row."""
    if isinstance(table.places, JsonPlaces):
        return table.places.problem(number, None, None, "", "").place
    return f"row {number}"
