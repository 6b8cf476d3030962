"""Files that are no plain workbook, and bytes that try to hurt: refused in plain words, never a traceback."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from optimiser.reading import UnusableInput, project_from_json, project_from_workbook, read_project
from optimiser.reading.json_text import parse_json
from optimiser.reading.sheet_scan import MOST_COLUMNS
from tests.builders.project_tables import (
    SOUND,
    csv_folder,
    json_file,
    json_value,
    tables,
    with_cell,
    workbook,
)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return workbook(tmp_path_factory.mktemp("sound") / "p.xlsx", SOUND).read_bytes()


def told_of(data: bytes) -> str:
    with pytest.raises(UnusableInput) as refused:
        project_from_workbook(data, "survey.xlsx")
    return "\n".join(refused.value.lines())


def repacked(data: bytes, change: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    """The package with parts replaced or added."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(packed, "w", compression) as new:
        for name in old.namelist():
            if name not in change:
                new.writestr(name, old.read(name))
        for name, content in change.items():
            new.writestr(name, content)
    return packed.getvalue()


def part(data: bytes, name: str) -> bytes:
    return zipfile.ZipFile(io.BytesIO(data)).read(name)


GAPS = "xl/worksheets/sheet6.xml"  # the sixth table of the sound project


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
            "is an old .xls, or a workbook locked with a password",
        ),
        (b"%PDF-1.7\n%...", "is a PDF, not a workbook"),
        (
            b"run,at_mm,gap_mm\nL1-N,0,150\n",
            "is not a workbook, whatever its name; give a .xlsx, a folder of .csv",
        ),
        (b"PK\x03\x04 and then nothing", "is damaged: it is no whole .xlsx; save it again as .xlsx"),
        (b"\0" * 100, "is not a workbook"),
    ],
)
def test_another_kind_of_file(data: bytes, told: str) -> None:
    assert told_of(data).startswith(f"survey.xlsx: {told}")


def zipped(**parts: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name.replace("__", "/").replace("_xml", ".xml"), content)
    return packed.getvalue()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (
            zipped(mimetype=b"application/vnd.oasis.opendocument.spreadsheet", content_xml=b"<x/>"),
            "OpenDocument",
        ),
        (zipped(word__document_xml=b"<x/>"), "is a document, not a workbook"),
        (zipped(photo=b"jpeg"), "is a zip file, but no workbook"),
        (zipped(xl__workbook_xml=b"<x/>"), "is no workbook inside"),
    ],
)
def test_another_kind_of_zip(data: bytes, told: str) -> None:
    assert told in told_of(data)


def test_a_truncated_workbook(sound: bytes) -> None:
    assert "is damaged" in told_of(sound[: len(sound) // 2])


def test_macros_are_refused_whatever_the_files_name(sound: bytes) -> None:
    assert "holds macros; save it as .xlsx, without macros" in told_of(
        repacked(sound, {"xl/vbaProject.bin": b"x"})
    )
    types = part(sound, "[Content_Types].xml").replace(
        b"spreadsheetml.sheet.main", b"sheet.macroEnabled.main"
    )
    assert "with macros" in told_of(repacked(sound, {"[Content_Types].xml": types}))


def test_a_zip_bomb_is_not_opened(sound: bytes) -> None:
    bomb = repacked(sound, {GAPS: b" " * 50_000_000})
    assert len(bomb) < 100_000
    assert re.search(r"would unpack to \d+ MB and is not opened", told_of(bomb))


def test_a_zip_bomb_that_lies_about_its_size_is_not_unpacked(sound: bytes) -> None:
    bomb = bytearray(repacked(sound, {GAPS: b" " * 50_000_000}))
    honest = (50_000_000).to_bytes(4, "little")
    assert bomb.count(honest) == 2  # in the part's own header and in the directory
    assert "is damaged" in told_of(bytes(bomb.replace(honest, (5_000).to_bytes(4, "little"))))


def test_two_parts_of_one_name_are_refused(sound: bytes) -> None:
    packed = io.BytesIO(sound)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(packed, "a") as archive:
        archive.writestr(GAPS, b"<worksheet/>")
    assert "two parts of the same name" in told_of(packed.getvalue())


@pytest.mark.parametrize("name", ["xl/workbook.xml", GAPS, "xl/sharedStrings.xml"])
def test_xml_entities_are_refused(name: str, sound: bytes) -> None:
    laughs = b"".join(b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10) for n in range(1, 10))
    entities = b'<!DOCTYPE x [<!ENTITY l0 "ha">' + laughs + b"]>"
    xml = part(sound, name)
    at = xml.index(b"?>") + 2
    assert "XML entities" in told_of(repacked(sound, {name: xml[:at] + entities + xml[at:]}))


def test_broken_xml_is_told(sound: bytes) -> None:
    assert "damaged XML" in told_of(repacked(sound, {GAPS: part(sound, GAPS)[:-30]}))


def test_a_2000_column_sheet_is_told_once_with_its_cell(tmp_path: Path) -> None:
    wide = with_cell("gaps", "A1", "run")
    wide["gaps"][0] += [f"survey {number}" for number in range(1995)]
    told = told_of(workbook(tmp_path / "p.xlsx", wide).read_bytes())
    assert f"gaps, row 1: the sheet reaches to column 2000, and {MOST_COLUMNS} are the most" in told
    assert len(told.splitlines()) == 1
    folder = csv_folder(tmp_path / "csv", wide)
    with pytest.raises(UnusableInput, match="gaps, row 1: the row has 2000 columns"):
        read_project(folder)


def test_a_million_rows_are_told_but_formatting_alone_does_no_harm(sound: bytes) -> None:
    xml = part(sound, GAPS)
    far = b'<row r="1048576"><c r="%s1048576" s="1">%s</c></row></sheetData>'
    value = xml.replace(b"</sheetData>", far % (b"A", b"<v>1</v>"))
    assert "gaps, row 1048576: the sheet reaches to row 1048576" in told_of(repacked(sound, {GAPS: value}))
    empty = xml.replace(b"</sheetData>", far % (b"XFD", b""))
    assert project_from_workbook(repacked(sound, {GAPS: empty})) == project_from_workbook(sound)


@pytest.mark.parametrize("place", ["ZZZZ2", "A99999999", "A4294967295", "a2", "$A$2", "A 2", "2", "A"])
def test_a_cell_where_no_sheet_reaches_is_told_and_no_room_is_made_for_it(sound: bytes, place: str) -> None:
    xml = part(sound, GAPS).replace(b'r="A2"', b'r="%s"' % place.encode(), 1)
    told = told_of(repacked(sound, {GAPS: xml}))
    shown = place if place.isdecimal() else f"'{place}'"
    assert told == f"survey.xlsx: has a cell at {shown}, and no sheet reaches there; save it again as .xlsx"


@pytest.mark.parametrize("number", ["99999999", "4294967295", "-1", "two"])
def test_a_row_where_no_sheet_reaches_is_told(sound: bytes, number: str) -> None:
    xml = re.sub(rb'<row r="2"([^>]*)><c r="A2"', b'<row r="%s"\\1><c' % number.encode(), part(sound, GAPS))
    assert f"survey.xlsx: has a row numbered {number}".replace("two", "'two'") in told_of(
        repacked(sound, {GAPS: xml})
    )


def test_a_lone_cell_far_from_its_table_is_told_before_room_is_made_for_all_between(sound: bytes) -> None:
    xml = part(sound, GAPS).replace(
        b"</sheetData>", b'<row r="200000"><c r="GR200000"><v>1</v></c></row></sheetData>'
    )
    told = told_of(repacked(sound, {GAPS: xml}))
    assert "gaps, row 200000: the sheet reaches to GR200000, and that is too far" in told
    assert "delete what stands right of and below the table" in told


def test_other_sheets_are_left_alone_however_large(sound: bytes) -> None:
    book = load_workbook(io.BytesIO(sound))
    book.create_sheet("photos")["XFD1048576"] = 1
    packed = io.BytesIO()
    book.save(packed)
    assert project_from_workbook(packed.getvalue()) == project_from_workbook(sound)


def edited(sound: bytes, sheet: str, edit: object) -> bytes:
    book = load_workbook(io.BytesIO(sound))
    edit(book[sheet])  # type: ignore[operator]
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def test_merged_cells_are_told_once_each(sound: bytes) -> None:
    told = told_of(edited(sound, "gaps", lambda sheet: sheet.merge_cells("A2:A3")))
    assert told.splitlines() == [
        "gaps, row 2, run: the cells A2:A3 are merged, so only the first holds a value;"
        " unmerge them and fill in each cell"
    ]


def test_a_merged_title_above_the_headings_does_no_harm(sound: bytes) -> None:
    def title(sheet: object) -> None:
        sheet.insert_rows(1)  # type: ignore[attr-defined]
        sheet["A1"] = "Survey"  # type: ignore[index]
        sheet.merge_cells("A1:E1")  # type: ignore[attr-defined]

    assert project_from_workbook(edited(sound, "gaps", title)) == project_from_workbook(sound)


def test_formulas_are_read_by_their_value_and_told_without_one(sound: bytes, tmp_path: Path) -> None:
    def formula(sheet: object) -> None:
        sheet["C2"] = "=100+50"  # type: ignore[index]

    told = told_of(edited(sound, "gaps", formula))
    assert told.startswith("gaps, row 2, gap_mm: holds a formula that was never computed; open the workbook")
    assert len(told.splitlines()) == 1
    computed = part(sound, GAPS).replace(b"<v>150</v>", b"<f>100+50</f><v>150</v>")
    assert project_from_workbook(repacked(sound, {GAPS: computed})) == project_from_workbook(sound)
    error = part(sound, GAPS).replace(b'<c r="C2"><v>150</v>', b'<c r="C2" t="e"><f>1/0</f><v>#DIV/0!</v>')
    told = told_of(repacked(sound, {GAPS: error}))
    assert (
        told
        == "gaps, row 2, gap_mm = '#DIV/0!': the formula gives an error; mend the formula, or write the value"
    )


def test_a_date_cell_is_a_day_and_no_gap(tmp_path: Path) -> None:
    good = with_cell("levels", "C2", date(2027, 2, 22))
    assert read_project(workbook(tmp_path / "p.xlsx", good)).levels[0].needed_on == date(2027, 2, 22)
    bad = with_cell("gaps", "C2", date(2027, 2, 22))
    assert "gaps, row 2, gap_mm = 2027-02-22: a length must be" in told_of(
        workbook(tmp_path / "q.xlsx", bad).read_bytes()
    )


def test_missing_and_odd_paths(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "void.json").write_bytes(b"")
    (tmp_path / "gaps.csv").write_text("run,at_mm\n", encoding="utf-8")
    for path, told in (
        (tmp_path / "none.xlsx", "there is no such file"),
        (tmp_path / "empty", "there is no .csv in this folder"),
        (tmp_path / "void.json", "is empty"),
        (tmp_path / "gaps.csv", "is one table of a project; give the folder"),
        (Path("a\0b"), "there is no such file"),
    ):
        with pytest.raises(UnusableInput) as refused:
            read_project(path)
        assert told in refused.value.lines()[0]


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b'{"gaps": [}', "is not JSON: expecting value at line 1, column 11"),
        (b'{"gaps": 1, "gaps": 2}', "the key 'gaps' stands twice in one object"),
        (b"[" * 200_000, "is nested too deeply"),
        (b"9" * 10_000, "has a number of thousands of digits"),
        (b'{"a": "\xff"}', "is not text in UTF-8"),
    ],
)
def test_what_is_no_json(data: bytes, told: str) -> None:
    with pytest.raises(UnusableInput) as refused:
        parse_json(data, "project.json")
    assert refused.value.lines()[0].startswith(f"project.json: {told}")


FUZZ = settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def survives(path: Path) -> None:
    """Whatever the bytes: a project, or problems in lines that can be printed."""
    try:
        read_project(path)
    except UnusableInput as refused:
        lines = refused.lines()
    else:
        return
    assert lines
    assert all(line.strip() and line.isprintable() for line in lines)


@given(data=st.binary(max_size=400), name=st.sampled_from(["p.xlsx", "p.json", "p", "p.xls"]))
@FUZZ
def test_any_bytes_are_survived(data: bytes, name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(data)
    survives(tmp_path / name)


@given(data=st.data())
@FUZZ
def test_workbooks_with_flipped_bytes_are_survived(data: st.DataObject, sound: bytes, tmp_path: Path) -> None:
    changed = bytearray(sound)
    for _ in range(data.draw(st.integers(1, 8))):
        changed[data.draw(st.integers(0, len(changed) - 1))] = data.draw(st.integers(0, 255))
    (tmp_path / "p.xlsx").write_bytes(changed)
    survives(tmp_path / "p.xlsx")


@given(data=st.data())
@FUZZ
def test_workbooks_with_mutated_xml_are_survived(data: st.DataObject, sound: bytes, tmp_path: Path) -> None:
    name = data.draw(st.sampled_from([GAPS, "xl/sharedStrings.xml", "xl/workbook.xml", "xl/styles.xml",
                                      "xl/_rels/workbook.xml.rels", "xl/worksheets/sheet2.xml"]))  # fmt: skip
    changed = bytearray(part(sound, name))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(changed) - 1))
        changed[at : at + data.draw(st.integers(0, 3))] = data.draw(
            st.sampled_from(
                [b"9", b"<", b">", b"99999999", b'"', b"XFD1048576", b"</c>", b"<f/>", b"\xff", b"&#0;"]
            )
        )
    (tmp_path / "p.xlsx").write_bytes(repacked(sound, {name: bytes(changed)}, zipfile.ZIP_STORED))
    survives(tmp_path / "p.xlsx")


@given(data=st.data())
@FUZZ
def test_json_and_csv_with_mutated_bytes_are_survived(data: st.DataObject, tmp_path: Path) -> None:
    file = json_file(tmp_path / "p.json", SOUND)
    folder = csv_folder(tmp_path / "csv", SOUND)
    target = data.draw(
        st.sampled_from([file, folder / "gaps.csv", folder / "runs.csv", folder / "detail.csv"])
    )
    changed = bytearray(target.read_bytes())
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(changed) - 1))
        changed[at : at + data.draw(st.integers(0, 2))] = data.draw(st.binary(max_size=3) | st.just(b"NaN"))
    target.write_bytes(changed)
    survives(file if target == file else folder)


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@given(place=st.sampled_from([*SOUND]), value=JSON_VALUES, whole=st.booleans(), key=st.text(max_size=10))
@settings(max_examples=300, deadline=None)
def test_any_json_value_anywhere_is_survived(place: str, value: object, whole: bool, key: str) -> None:
    project = json_value(SOUND)
    if whole:
        project[place] = value
    else:
        project[place].append({**project[place][-1], key: value, next(iter(project[place][-1])): value})
    lines: tuple[str, ...] = ()
    try:
        project_from_json(project)
    except UnusableInput as refused:
        lines = refused.lines()
    assert all(line.isprintable() for line in lines)


def test_an_untouched_copy_of_the_tables_is_sound(tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book.active)
    for name, rows in tables().items():
        sheet = book.create_sheet(name.upper())
        for row in rows:
            sheet.append(row)
    book.save(tmp_path / "p.xlsx")
    assert read_project(tmp_path / "p.xlsx").project.name == "Invented job"
