"""A record of what happened into events: csv with the contract's headings, JSON lines, or a JSON list."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime, time
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimiser.errors.problems import CellError, Problem, ProblemList, shown
from optimiser.model.plan import Plan
from optimiser.model.project import LONGEST_MM, Project
from optimiser.model.record import EVENT_KINDS, Event, Record
from optimiser.reading.cells import choice, closest, name, text
from optimiser.reading.columns import Column, TableSpec, column_meant
from optimiser.reading.csv_folder import LARGEST_BYTES, grid_of_csv
from optimiser.reading.dates import day
from optimiser.reading.documents import JsonPlaces, Places, RawTable, Row
from optimiser.reading.file_bytes import read_bytes
from optimiser.reading.grids import blank, table_of_grid
from optimiser.reading.json_text import parse_json
from optimiser.reading.numbers import count, millimetres
from optimiser.reading.plan_names import PlanNames

_BLANK = b"\xef\xbb\xbf \t\r\n"  # what may stand before the first event, the mark of UTF-8 too


def moment(value: Any) -> datetime:
    """A date and time as ISO 8601; a day alone is its beginning. Raises CellError."""
    if isinstance(value, datetime):
        return value
    if isinstance(value, str):
        written = value.strip()
        try:
            found = datetime.fromisoformat(written)
        except ValueError:
            found = None
        if found is not None and len(written) > 10:
            if not 2000 <= found.year <= 2100:
                raise CellError("the year must lie between 2000 and 2100", "correct the year")
            return found
    try:
        return datetime.combine(day(value), time())
    except CellError as slip:
        if slip.message != "must be a date":
            raise
        raise CellError("must be a date and time", "write it as 2027-02-22T07:30") from None


SPEC = TableSpec(
    "record",
    "one thing that happened",
    (
        Column("at", moment, True, "write when it happened, such as 2027-02-22T07:30"),
        Column("event", choice(*EVENT_KINDS), True, f"write one of {', '.join(EVENT_KINDS)}"),
        Column("level", name),
        Column("code", name),
        Column("quantity", count(1, 10**6)),
        Column("board", name),
        Column("piece", name),
        Column("length_mm", millimetres(1, LONGEST_MM)),
        Column("width_mm", millimetres(1, LONGEST_MM)),
        Column("note", text),
        Column("id", name),
        Column("by", name),
        Column("undoes", name),
    ),
    required=True,
)


def read_record(path: Path, plan: Plan | None = None) -> Record:
    """The record in a file: .csv, or JSON lines (.jsonl, .json), or a JSON list of events.

    Events that a `plan` does not hold yet must name its own pieces, levels and products. Raises UnusableInput with
    every fault, each with its line, field, value and mend.
    """
    problems = ProblemList()
    data = read_bytes(path, LARGEST_BYTES, may_be_empty=True)
    found: dict[int, dict[str, Any]] = {}
    if not data.strip():
        return Record()
    if data.lstrip(_BLANK)[:1] in (b"{", b"["):
        table = _of_json(data, path.name, problems)
    else:
        grid = grid_of_csv(data, "record", problems)
        table = table_of_grid(grid, SPEC, "record", problems)[0] if grid is not None else None
    for row in table or ():
        values = _values(row, table.places if table else JsonPlaces("record"), problems)
        if values is not None:
            found[row.number] = values
    events = _assembled(found, table, problems)
    if plan is not None:
        _refuse_strangers(found, plan, table.places if table else JsonPlaces("record"), problems)
    problems.raise_if_any(("record",))
    return Record(events=events)


def _refuse_strangers(
    found: Mapping[int, Mapping[str, Any]], plan: Plan, places: Places, problems: ProblemList
) -> None:
    """What new events name that the plan does not have."""
    names = PlanNames.of(plan)
    known = set(plan.record.events)
    known_ids = {event.id for event in known} - {""}
    for number, values in found.items():
        if values.get("id") in known_ids or (not values.get("id") and _event(values) in known):
            continue
        for column, said, message, mend in names.strange(values):
            problems.add(places.problem(number, column, said, message, mend))


def _event(values: Mapping[str, Any]) -> Event | None:
    try:
        return Event(**values)
    except ValidationError:
        return None


def record_from_json(value: object) -> Record:
    """The record in a parsed JSON list of events. Raises UnusableInput with every fault and its JSON path."""
    problems = ProblemList()
    events = _assembled(*_read_list(value, problems), problems)
    problems.raise_if_any(("record",))
    return Record(events=events)


def events_from_json(
    value: object, *, known: Collection[str] = (), survey: Project | None = None
) -> tuple[Event, ...]:
    """The events of a parsed JSON list that go to the end of a record, in their order.

    Each needs an id of its own; `known` are the ids of the events that are on record. With a `survey`, levels and codes
    of events that are new must be its own. Raises UnusableInput with every fault and its JSON path.
    """
    problems = ProblemList()
    found, table = _read_list(value, problems)
    places = JsonPlaces("record")
    for number, values in found.items():
        if not values.get("id"):
            mend = "give every event an id of its own, which it keeps when it is sent again"
            problems.add(places.problem(number, "id", None, "is missing", mend))
        elif values["id"] in known:
            continue
        for column, names in _names_of(survey).items():
            if (said := values.get(column)) and said not in names:
                mend = (
                    f"write {meant}" if (meant := closest(said, names)) else f"write a {column} of the survey"
                )
                problems.add(places.problem(number, column, said, f"the survey has no such {column}", mend))
    events = _assembled(found, table, problems, known)
    problems.raise_if_any(("record",))
    return events


def _names_of(survey: Project | None) -> dict[str, Collection[str]]:
    if survey is None:
        return {}
    return {"level": survey.building.levels, "code": survey.building.products}


def _read_list(value: object, problems: ProblemList) -> tuple[dict[int, dict[str, Any]], RawTable | None]:
    """The events of a parsed JSON list by their place in it, those left out that cannot be read."""
    table = _of_list(value, problems)
    found = {
        row.number: values
        for row in table or ()
        if (values := _values(row, JsonPlaces("record"), problems)) is not None
    }
    return found, table


def _of_json(data: bytes, what: str, problems: ProblemList) -> RawTable | None:
    """A JSON list, or an event a line; blank lines are left out and counted."""
    if data.lstrip(_BLANK)[:1] == b"[":
        return _of_list(parse_json(data, what), problems)
    lines = enumerate(data.removeprefix(b"\xef\xbb\xbf").split(b"\n"), start=1)
    return _of_list(
        [parse_json(line, f"{what}, line {number}") for number, line in lines if line.strip()], problems
    )


def _of_list(value: object, problems: ProblemList) -> RawTable | None:
    if isinstance(value, dict) and isinstance(value.get("events"), list):
        value = value["events"]
    if not isinstance(value, list):
        problems.add(Problem("record", None, None, value, "must be a list of events", "write a list"))
        return None
    rows = []
    for index, item in enumerate(value):
        if not isinstance(item, dict):
            problems.add(Problem(f"record[{index}]", None, None, item, "must be an event", "write an object"))
            continue
        rows.append(Row(index, dict(_fields(item, index, problems))))
    return RawTable(JsonPlaces("record"), frozenset(SPEC.names), tuple(rows))


def _fields(item: Mapping[str, object], index: int, problems: ProblemList) -> Iterator[tuple[str, object]]:
    for key, value in item.items():
        column = column_meant(SPEC, str(key))
        if column is not None:
            if not blank(value):
                yield column.name, value
        elif meant := closest(str(key), SPEC.names):
            problems.add(
                Problem(f"record[{index}].{key}", message="is not known", mend=f"write {meant}", value=value)
            )


def _values(row: Row, places: Places, problems: ProblemList) -> dict[str, Any] | None:
    """A row's cells read, or None where one of them cannot be."""
    values: dict[str, Any] = {}
    whole = True
    for column in SPEC.columns:
        if column.name not in row.cells:
            if column.required:
                problems.add(places.problem(row.number, column.name, None, "is missing", column.mend))
                whole = False
            continue
        try:
            values[column.name] = column.parse(row.cells[column.name])
        except CellError as slip:
            whole = False
            problems.add(
                places.problem(row.number, column.name, row.cells[column.name], slip.message, slip.mend)
            )
    return values if whole else None


def _assembled(
    found: Mapping[int, dict[str, Any]],
    table: RawTable | None,
    problems: ProblemList,
    known: Collection[str] = (),
) -> tuple[Event, ...]:
    """The events in order; faults of one event against another have their row too. What one undoes may be among the
    `known` ids as well."""
    places = table.places if table is not None else JsonPlaces("record")
    events: dict[int, Event] = {}
    first: dict[str, int] = {}
    for number, values in found.items():
        try:
            event = Event(**values)
        except ValidationError as error:
            message = error.errors()[0]["msg"].removeprefix("Value error, ")
            problems.add(places.problem(number, None, None, message, "correct it"))
            continue
        if event.id in first:
            where = (
                f"record[{first[event.id]}]" if isinstance(places, JsonPlaces) else f"row {first[event.id]}"
            )
            message = f"is the id of {where} too"
            problems.add(places.problem(number, "id", event.id, message, "give it an id of its own"))
            continue
        if event.id:
            first[event.id] = number
        for column, mend in _missing(event):
            problems.add(places.problem(number, column, None, f"{shown(event.event)} needs it", mend))
        events[number] = event
    for number, event in events.items():
        if event.undoes and event.undoes not in first and event.undoes not in known:
            problems.add(
                places.problem(number, "undoes", event.undoes, "is the id of no event", "write an event's id")
            )
    return tuple(events.values())


def _missing(event: Event) -> Iterator[tuple[str, str]]:
    """What an event of its kind cannot do without, and what to write."""
    if event.event in ("ordered", "delivered"):
        if not event.code:
            yield "code", "write the product's code"
        if event.quantity is None:
            yield "quantity", "write how many, counted singly, not in packs"
    elif event.event == "cut" and not (event.piece or event.board or event.level):
        yield "piece", "write the piece, or the board, or the level that was cut"
    elif event.event in ("fitted", "inspected") and not (event.piece or event.level):
        yield "piece", "write the piece, or the level"
    elif event.event == "kept":
        if not event.board:
            yield "board", "write the remainder's name, or the number of its board"
        for column in ("length_mm", "width_mm"):
            if getattr(event, column) is None:
                yield column, "write it as measured"
    elif event.event == "scrapped":
        if not (event.piece or event.board or event.code):
            yield "piece", "write the piece, the remainder or the product that is lost"
        if event.code and not event.piece and not event.board and event.quantity is None:
            yield "quantity", "write how many"
    elif event.event == "undone" and not event.undoes:
        yield "undoes", "write the id of the event that is taken back"
