"""A JSON document into tables, with JSON paths for places."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from optimiser.errors.problems import Problem, ProblemList, UnusableInput, shown
from optimiser.reading.cells import Parser, closest
from optimiser.reading.columns import TableSpec, column_meant, folded, probably_meant, wrong_unit
from optimiser.reading.documents import Document, JsonPlaces, RawField, RawTable, Row
from optimiser.reading.grids import NOT_DETAILS, blank
from optimiser.reading.tables import CREW_RATES, DETAIL, FIELDS, PROJECT, SURVEY_LIMITS, TABLES


def document_of_json(value: object, problems: ProblemList) -> Document:
    """The tables of a parsed JSON project. Raises UnusableInput when it is no object at all."""
    if not isinstance(value, dict):
        raise UnusableInput(
            [
                Problem(
                    "", message=f"a project is a JSON object, not {_kind(value)}",
                    mend="write {\"products\": [...], \"levels\": [...], \"runs\": [...], \"gaps\": [...]}",
                )
            ]
        )  # fmt: skip
    if isinstance(value.get("project"), dict) and "products" in value["project"] and "products" not in value:
        raise UnusableInput(
            [
                Problem(
                    "project",
                    message="this is a plan, not a project",
                    mend="give the project it was made from",
                )
            ]
        )
    document = Document(is_json=True)
    strangers = [key for key in value if key not in TABLES and key not in FIELDS and key != "details"]
    for name, spec in TABLES.items():
        if value.get(name) is None:
            meant = closest(name, strangers, 0.7)
            if meant is not None:
                problems.add(Problem(meant, message=f"there is no {name}, and this looks like it",
                                     mend=f"name it {name}"))  # fmt: skip
            elif spec.required:
                columns = ", ".join(spec.names)
                problems.add(
                    Problem(name, message="is missing", mend=f"add a list of objects with {columns}")
                )
            continue
        before = len(problems.found)
        table = _table(value[name], spec, problems)
        if table is not None:
            document.tables[name] = table
        if len(problems.found) > before:
            document.missing_noted.add(name)
    for name in FIELDS:
        if value.get(name) is None:
            meant = closest(name, strangers, 0.7)
            if meant is not None:
                problems.add(Problem(meant, message=f"there is no {name}, and this looks like it",
                                     mend=f"name it {name}"))  # fmt: skip
    document.project = _fields(value.get("project"), "project", PROJECT, problems)
    document.detail = _fields(value.get("detail"), "detail", DETAIL, problems)
    document.survey_limits = _fields(value.get("survey_limits"), "survey_limits", SURVEY_LIMITS, problems)
    document.crew_rates = _fields(value.get("crew_rates"), "crew_rates", CREW_RATES, problems)
    document.notes = _notes(value.get("reading_notes"), problems)
    document.details = _details(value.get("details"), problems)
    document.maybe_details = _details_beside(value.get("detail"))
    return document


def _notes(value: object, problems: ProblemList) -> tuple[str, ...]:
    """The notes of an earlier reading, which a project as JSON keeps."""
    if value is None:
        return ()
    if not isinstance(value, (list, tuple)) or not all(isinstance(item, str) for item in value):
        problems.add(Problem("reading_notes", None, None, value, "must be a list of texts", "take it out"))
        return ()
    return tuple(item for item in value if isinstance(item, str))


def _details_beside(value: object) -> dict[str, tuple[RawField, ...]]:
    """What may be named details in a list of {rule, value, name}: the keys beside `value`, as columns of the sheet."""
    found: dict[str, list[RawField]] = {}
    for index, row in enumerate(value if isinstance(value, (list, tuple)) else ()):
        if isinstance(row, dict) and "rule" in row:
            for key, cell in row.items():
                name = str(key).strip()
                if name and len(name) <= 60 and folded(name) not in NOT_DETAILS and not blank(cell):
                    places = JsonPlaces("detail")
                    field = RawField(str(row["rule"]), _exact(cell), index, name, places, row.get("unit"))
                    found.setdefault(name, []).append(field)
    return {name: tuple(fields) for name, fields in found.items()}


def _details(value: object, problems: ProblemList) -> dict[str, tuple[RawField, ...]]:
    """The named details: an object of rules by name."""
    if value is None:
        return {}
    if not isinstance(value, dict):
        message = "must be an object of details by name"
        problems.add(Problem("details", None, None, value, message, 'write {"name": {"oversize_min": 0.10}}'))
        return {}
    found: dict[str, tuple[RawField, ...]] = {}
    for key, rules in value.items():
        name = str(key).strip()
        if not name or len(name) > 60:
            message = "a detail's name must be 1 to 60 characters"
            problems.add(Problem(f"details.{name[:60]}", message=message, mend="choose a shorter name"))
        else:
            found[name] = _fields(rules, f"details.{name}", DETAIL, problems)
    return found


def _kind(value: object) -> str:
    if isinstance(value, (list, tuple)):
        return "a list"
    return "null" if value is None else f"the value {shown(value)}"


def _exact(value: object) -> object:
    """Floats through their shortest text, so that 0.1 is one tenth exactly; blanks as None."""
    if isinstance(value, float):
        return Decimal(repr(value)) if math.isfinite(value) else Decimal("NaN")
    if blank(value) or value == []:
        return None
    if isinstance(value, list):
        return [_exact(item) if not blank(item) else item for item in value]
    return value


def _table(value: object, spec: TableSpec, problems: ProblemList) -> RawTable | None:
    places = JsonPlaces(spec.name)
    if spec.name == "allowance" and isinstance(value, dict) and "kind" not in value:
        return _allowance_by_kind(value)
    if isinstance(value, dict):
        value = [value]
    if not isinstance(value, (list, tuple)):
        problems.add(
            Problem(spec.name, None, None, value, "must be a list of objects", "write [{...}, {...}]")
        )
        return None
    meanings: dict[str, str | None] = {}
    told: set[str] = set()
    rows: list[Row] = []
    present: set[str] = set()
    for index, item in enumerate(value):
        if not isinstance(item, dict):
            problems.add(
                places.problem(index, None, item, "must be an object", f"write {spec.row_means} as {{...}}")
            )
            continue
        cells = {}
        for key, raw in item.items():
            if key not in meanings:
                meanings[key] = column.name if (column := column_meant(spec, str(key)[:80])) else None
            column_name = meanings[key]
            if column_name is None:
                if key not in told:
                    told.add(key)
                    _stranger(spec, str(key), item, raw, index, places, problems)
                continue
            cell = _exact(raw)
            if column_name in cells:
                problems.add(
                    places.problem(index, str(key), raw, f"{column_name} is given twice", "keep one")
                )
            elif cell is not None:
                cells[column_name] = cell
        present |= cells.keys()
        if cells:
            rows.append(Row(index, cells))
    columns = frozenset(present)
    if rows:
        for column in spec.columns:
            if column.required and not columns & {column.name, *column.instead}:
                if len(rows) == 1:
                    columns |= {column.name}  # its one row is told, with its path
                elif not any(closest(folded(key), [column.name], 0.8) for key in told):
                    message = f"no row has {column.name}"
                    problems.add(Problem(spec.name, message=message, mend=f"add it: {column.mend}"))
    return RawTable(places, columns, tuple(rows))


def _stranger(
    spec: TableSpec,
    key: str,
    item: Mapping[str, Any],
    raw: object,
    index: int,
    places: JsonPlaces,
    problems: ProblemList,
) -> None:
    """A key that is not known: a slip when it is near a known one that the row lacks, else the user's own."""
    other = wrong_unit(spec, key)
    if other is not None and other.name not in item:
        message = "lengths are read in millimetres only"
        problems.add(places.problem(index, key[:60], raw, message, f"write them in mm as {other.name}"))
        return
    meant = probably_meant(key, [name for name in spec.names if name not in item])
    if meant is not None:
        problems.add(places.problem(index, key[:60], raw, "the key is not known", f"write {meant}"))


def _allowance_by_kind(value: Mapping[str, object]) -> RawTable:
    rows: list[Row] = []
    for kind, fraction in value.items():
        cells: dict[str, object] = {"kind": str(kind)}
        if (cell := _exact(fraction)) is not None:
            cells["fraction"] = cell
        rows.append(Row(len(rows), cells))
    return RawTable(_AllowancePlaces(tuple(map(str, value))), frozenset(("kind", "fraction")), tuple(rows))


class _AllowancePlaces(JsonPlaces):
    """allowance.board, where allowances are written as {kind: fraction}."""

    def __init__(self, kinds: tuple[str, ...]) -> None:
        super().__init__("allowance")
        object.__setattr__(self, "kinds", kinds)

    def problem(self, row: int | None, column: str | None, value: object, message: str, mend: str) -> Problem:
        """The kind takes the row's place."""
        kinds: tuple[str, ...] = self.kinds  # type: ignore[attr-defined]
        if row is None:
            return Problem("allowance", None, None, value, message, mend)
        return Problem(f"allowance.{kinds[row][:60]}", None, None, value, message, mend)


def _fields(
    value: object, name: str, known: Mapping[str, Parser], problems: ProblemList
) -> tuple[RawField, ...]:
    """An object, a list of one object, or a list of {rule, value}."""
    if value is None:
        return ()
    if isinstance(value, (list, tuple)):
        if value and all(isinstance(item, dict) and ("rule" in item or "value" in item) for item in value):
            return tuple(
                RawField(
                    str(item.get("rule", "")), _exact(item.get("value")), index, "value",
                    JsonPlaces(name), item.get("unit"),
                )
                for index, item in enumerate(value)
            )  # fmt: skip
        if len(value) > 1 or not all(isinstance(item, dict) for item in value):
            problems.add(Problem(name, None, None, value, "must be one object", "write {...}"))
            return ()
        value = value[0] if value else {}
        places = JsonPlaces(f"{name}[0]", listed=False)
    else:
        places = JsonPlaces(name, listed=False)
    if not isinstance(value, dict):
        problems.add(Problem(name, None, None, value, "must be an object", "write {...}"))
        return ()
    return tuple(RawField(str(key), _exact(item), None, str(key)[:60], places) for key, item in value.items())
