"""The workbook back: every faulty cell coloured and commented, everything else as it was, and a list of the faults."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.styles import Font

from optimiser.reading import UnusableInput, read_project
from optimiser.writing.office.marked_workbook import LIST, has_cells, marked_workbook
from tests.builders.project_tables import csv_folder, tables, with_cell, workbook

FAULTY = Path(__file__).resolve().parents[3] / "sample_orders" / "faulty" / "faulty.xlsx"


def marked(path: Path) -> tuple[Workbook, UnusableInput]:
    with pytest.raises(UnusableInput) as refused:
        read_project(path)
    return load_workbook(io.BytesIO(marked_workbook(path, refused.value.kept))), refused.value


def cells_marked(book: Workbook) -> dict[tuple[str, str], str]:
    return {
        (sheet.title, cell.coordinate): cell.comment.text
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.comment is not None and cell.comment.author == "barrier-orders"
    }


def coloured(book: Workbook) -> set[tuple[str, str]]:
    return {
        (sheet.title, cell.coordinate)
        for sheet in book.worksheets
        if sheet.title != LIST
        for row in sheet.iter_rows()
        for cell in row
        if cell.fill.fill_type == "solid" and cell.fill.fgColor.rgb == "FFF4A6A0"
    }


def test_each_faulty_cell_is_coloured_and_says_what_is_wrong(tmp_path: Path) -> None:
    faulty = with_cell("gaps", "C3", "15 cm")
    faulty["levels"][1][2] = "soon"
    book, refused = marked(workbook(tmp_path / "p.xlsx", faulty))
    assert len(refused.problems) == 2
    assert coloured(book) == {("gaps", "C3"), ("levels", "C2")}
    said = cells_marked(book)
    assert said["gaps", "C3"] == "2: a length must be a whole number of millimetres; write 150"
    assert book["gaps"]["C3"].value == "15 cm"


def test_the_faulty_sample_has_a_mark_for_each_of_its_faults() -> None:
    book, refused = marked(FAULTY)
    said = "\n".join(cells_marked(book).values())
    for number, problem in enumerate(refused.problems, 1):
        assert f"{number}: {problem.message}" in said
    listed = [row[0] for row in book[LIST].iter_rows(min_row=5, values_only=True)]
    assert listed == list(range(1, len(refused.problems) + 1))
    assert book.sheetnames[0] == LIST


def test_a_fault_that_is_told_once_is_marked_in_every_cell(tmp_path: Path) -> None:
    content = tables()
    content["levels"] = content["levels"][:1] + content["levels"][2:]  # L1 is missing
    content["runs"].append(["L1-E", "L1", 3000, "B-120", None])
    content["gaps"].append(["L1-E", 0, 150, None, None])
    content["stock"] = content["stock"][:1]
    book, refused = marked(workbook(tmp_path / "p.xlsx", content))
    assert len(refused.problems) == 1
    assert coloured(book) == {("runs", "B2"), ("runs", "B4")}


def test_merged_cells_are_marked_as_a_whole() -> None:
    book, _ = marked(FAULTY)
    assert ("gaps", "C15") in coloured(book)


def test_what_the_user_has_in_the_workbook_stays(tmp_path: Path) -> None:
    path = workbook(tmp_path / "p.xlsx", with_cell("gaps", "C3", "15 cm"))
    own = load_workbook(path)
    own["gaps"]["A2"].font = Font(bold=True)
    own["gaps"]["C3"].comment = Comment("windy", "surveyor")
    own["gaps"]["F2"] = "=C2*2"
    own.create_sheet("my notes")["A1"] = "ask Invented Person"
    own.save(path)
    book, _ = marked(path)
    assert book["gaps"]["A2"].font.bold
    assert book["my notes"]["A1"].value == "ask Invented Person"
    assert book["gaps"]["C3"].comment.text.startswith("windy\n1: ")
    assert book["gaps"]["F2"].value == "=C2*2"


def test_a_marked_workbook_that_is_marked_again_has_only_the_newest_marks(tmp_path: Path) -> None:
    path = workbook(tmp_path / "p.xlsx", with_cell("gaps", "C3", "15 cm"))
    first, _ = marked(path)
    first["gaps"]["C3"] = 150
    first["gaps"]["B3"] = "half way"
    again = tmp_path / "again.xlsx"
    first.save(again)
    second, refused = marked(again)
    assert len(refused.problems) == 1
    assert coloured(second) == {("gaps", "B3")}
    assert second.sheetnames.count(LIST) == 1


def test_a_folder_of_csv_comes_back_as_a_workbook_of_its_tables(tmp_path: Path) -> None:
    faulty = with_cell("gaps", "C3", "15 cm")
    faulty["gaps"][1][0] = "=1+1"
    book, _ = marked(csv_folder(tmp_path / "csv", faulty))
    assert coloured(book) >= {("gaps", "C3"), ("gaps", "A2")}
    assert book["gaps"]["A2"].data_type == "s"  # a stranger's text is never a formula


@pytest.mark.parametrize("value", ["=HYPERLINK(1)", "+1", "@x", "\x07bell"])
def test_a_value_in_the_list_is_never_a_formula(value: Any, tmp_path: Path) -> None:
    book, _ = marked(workbook(tmp_path / "p.xlsx", with_cell("gaps", "D3", value.replace("=", "'="))))
    assert all(cell.data_type != "f" for row in book[LIST].iter_rows() for cell in row)


def test_json_has_no_cells(tmp_path: Path) -> None:
    (tmp_path / "p.json").write_text("{}")
    assert not has_cells(tmp_path / "p.json")
    assert not has_cells(Path("-"))
    assert has_cells(FAULTY)
