"""A record in csv or JSON lines: the same events, and every fault with its row, field, value and mend."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from optimiser.errors.problems import UnusableInput
from optimiser.model.record import Event, Record
from optimiser.planning.plan import plan
from optimiser.reading import read_record
from tests.builders.levels import building

CSV = """at,event,level,code,quantity,board,piece,length (mm),width_mm,note,id
2027-03-01T07:30,ordered,L01,B-120,12,,,,,,e1
2027-03-02,Cut,,,,17,,,,,e2
2027-03-02T10:00,kept,,,,B017-R1,,1200,410,"a little narrower",e3
2027-03-03T08:00,fitted,,,,,L01-N-003,,,,e4
"""
JSON_LINES = """{"at": "2027-03-01T07:30", "event": "ordered", "level": "L01", "code": "B-120", "quantity": 12,
 "id": "e1"}
{"at": "2027-03-02", "event": "cut", "board": 17, "id": "e2"}

{"at": "2027-03-02T10:00:00", "event": "kept", "board": "B017-R1", "length_mm": 1200, "width_mm": 410,
 "note": "a little narrower", "id": "e3"}
{"at": "2027-03-03T08:00", "event": "fitted", "piece": "L01-N-003", "id": "e4"}
""".replace(",\n ", ", ")


def record_of(text: str, tmp_path: Path, name: str = "record.csv") -> Record:
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    return read_record(file)


def test_csv_and_json_lines_are_the_same_record(tmp_path: Path) -> None:
    from_csv = record_of(CSV, tmp_path)
    assert from_csv == record_of(JSON_LINES, tmp_path, "record.jsonl")
    assert from_csv.events[0] == Event(
        at=datetime(2027, 3, 1, 7, 30), event="ordered", level="L01", code="B-120", quantity=12, id="e1"
    )
    assert [event.event for event in from_csv.events] == ["ordered", "cut", "kept", "fitted"]


def test_json_lines_may_begin_with_the_mark_of_utf_8_and_hold_a_line_separator_in_a_text(
    tmp_path: Path,
) -> None:
    written = '\ufeff{"at": "2027-03-01", "event": "cut", "board": "17", "note": "wet\u2028below"}\n'
    (event,) = record_of(written, tmp_path, "record.jsonl").events
    assert (event.board, event.note) == ("17", "wet\u2028below")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (
            b'{"at": "2027-03-01", "event": "cut", "board": "17"}\n\n{"at": \n',
            "record.jsonl, line 3: is not JSON",
        ),
        (
            b'{"at": "2027-03-01", "event": "cut", "by": "Andr\xe9"}\n',
            "record.jsonl, line 1: is not text in UTF-8",
        ),
        (
            b'{"at": "2027-03-01", "event": "cut", "board": "1", "id": "a"}\n' * 2,
            "record[1].id = 'a': is the id of record[0] too; give it an id of its own",
        ),
    ],
)
def test_a_fault_of_json_lines_names_its_line_or_its_event(tmp_path: Path, content: bytes, says: str) -> None:
    file = tmp_path / "record.jsonl"
    file.write_bytes(content)
    with pytest.raises(UnusableInput) as refused:
        read_record(file)
    assert says in str(refused.value)


def test_an_empty_file_is_a_record_without_events(tmp_path: Path) -> None:
    assert record_of("", tmp_path) == Record()


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (
            "yesterday,cut,,,,17,,,,,",
            "row 2, at = 'yesterday': must be a date and time; write it as 2027-02-22T07:30",
        ),
        (
            "03/04/2027,cut,,,,17,,,,,",
            "row 2, at = '03/04/2027': the date can be read in two orders; write 2027-04-03 (3 April) or 2027-03-04",
        ),
        ("2027-03-02,sawn,,,,17,,,,,", "row 2, event = 'sawn': must be one of ordered"),
        ("2027-03-02,delivered,L01,,12,,,,,,", "row 2, code: 'delivered' needs it; write the product's code"),
        ("2027-03-02,delivered,L01,B-120,,,,,,,", "row 2, quantity: 'delivered' needs it; write how many"),
        (
            "2027-03-02,delivered,L01,B-120,a dozen,,,,,,",
            "row 2, quantity = 'a dozen': must be a whole number",
        ),
        (
            "2027-03-02,cut,,,,,,,,,",
            "row 2, piece: 'cut' needs it; write the piece, or the board, or the level",
        ),
        ("2027-03-02,kept,,,,17,,1200,,,", "row 2, width_mm: 'kept' needs it; write it as measured"),
        ("2027-03-02,undone,,,,,,,,,", "row 2, undoes: 'undone' needs it; write the id of the event"),
    ],
)
def test_a_fault_names_its_row_field_value_and_mend(row: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(UnusableInput) as refused:
        record_of(CSV.splitlines()[0] + "\n" + row + "\n", tmp_path)
    assert f"record, {says}" in "\n".join(refused.value.lines())


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    rows = "2027-03-02,sawn,,,,17,,,,,\n2027-03-02,delivered,L01,,12,,,,,,\n"
    with pytest.raises(UnusableInput) as refused:
        record_of(CSV.splitlines()[0] + "\n" + rows, tmp_path)
    assert len(refused.value.problems) == 2


def test_an_id_that_is_given_twice_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match="row 6, id = 'e1': is the id of row 2 too"):
        record_of(CSV + "2027-03-04,cut,,,,18,,,,,e1\n", tmp_path)


def test_an_event_that_is_sent_twice_counts_once() -> None:
    first = Event(at=datetime(2027, 3, 1), event="cut", board="17", id="e1")
    second = Event(at=datetime(2027, 3, 2), event="cut", board="18")
    record = Record(events=(first,)).with_events((first, second))
    assert record.with_events((first, second, second)).events == (first, second)


def test_what_is_undone_does_not_stand() -> None:
    cut = Event(at=datetime(2027, 3, 1), event="cut", board="17", id="e1")
    record = Record(events=(cut, Event(at=datetime(2027, 3, 2), event="undone", undoes="e1")))
    assert record.standing == ()


def test_what_new_events_name_must_be_the_plans_own(tmp_path: Path) -> None:
    made = plan(building())
    file = tmp_path / "record.csv"
    file.write_text(
        "at,event,level,code,quantity,board,piece,id\n"
        "2027-03-01,cut,,,,,L1-N-001,e1\n"
        "2027-03-01,cut,,,,,L1-N-01,e2\n"
        "2027-03-01,cut,,,,B099,,e3\n"
        "2027-03-01,ordered,L7,B-120,4,,,e4\n"
        "2027-03-01,delivered,L1,B-12,4,,,e5\n",
        encoding="utf-8",
    )
    with pytest.raises(UnusableInput) as refused:
        read_record(file, made)
    said = str(refused.value)
    for value in ("L1-N-01", "B099", "L7", "B-12"):
        assert value in said
    assert said.count("the plan has no such") == 4
    assert len(read_record(file).events) == 5


def test_what_a_plan_holds_already_is_not_asked_about_again(tmp_path: Path) -> None:
    made = plan(building())
    old = Event(at=datetime(2027, 3, 1), event="cut", piece="L1-N-099", id="e1")
    held = made.model_copy(update={"record": Record(events=(old,))})
    file = tmp_path / "record.jsonl"
    file.write_text(old.model_dump_json(exclude_defaults=True), encoding="utf-8")
    assert read_record(file, held).events == (old,)
