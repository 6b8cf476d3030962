"""The empty workbook: complete, marked, safe to print, and read as 'nothing filled in yet'."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from optimiser.model.project import Detail
from optimiser.planning.warnings import CAUTIONS
from optimiser.reading import UnusableInput, read_project
from optimiser.reading.tables import DETAIL, PROJECT, TABLES
from optimiser.writing.office.template import write_template


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "empty.xlsx"
    write_template(path)
    return path


@pytest.fixture
def book(path: Path) -> Workbook:
    return load_workbook(path)


def texts(book: Workbook, sheet: str) -> list[str]:
    return [cell for row in book[sheet].iter_rows(values_only=True) for cell in row if isinstance(cell, str)]


def test_it_has_every_table_with_the_headings_that_are_read(book: Workbook) -> None:
    for name, spec in TABLES.items():
        assert tuple(cell.value for cell in book[name][1]) == spec.names
    assert [cell.value for cell in book["detail"]["A"][1:]] == list(DETAIL)
    assert [cell.value for cell in book["project"]["A"][1:]] == list(PROJECT)


def test_every_heading_has_a_note_that_says_whether_it_is_required(book: Workbook) -> None:
    for name, spec in TABLES.items():
        for cell, column in zip(book[name][1], spec.columns, strict=True):
            assert cell.comment is not None
            assert cell.comment.text.startswith("Required." if column.required else "May stay blank.")


def test_every_placeholder_of_the_detail_is_told_beside_its_rule(book: Workbook) -> None:
    for row in book["detail"].iter_rows(min_row=2, values_only=True):
        standard = getattr(Detail(), str(row[0]))
        shown = str(standard).lower() if isinstance(standard, bool) else str(standard)
        assert str(row[3]).endswith(f"Blank: the placeholder {shown}.")


def test_drop_downs_refer_to_the_sheets_where_the_names_stand(book: Workbook) -> None:
    def sources(sheet: str) -> dict[str, str]:
        return {
            str(rule.sqref).split(":")[0].rstrip("0123456789"): str(rule.formula1)
            for rule in book[sheet].data_validations.dataValidation
            if rule.type == "list"
        }

    assert sources("gaps") == {"A": "runs!$A$3:$A$5002", "D": '"measured,nominal"'}
    assert sources("runs") == {
        "B": "levels!$A$3:$A$502", "D": "products!$A$3:$A$502", "G": "runs!$A$3:$A$5002",
    }  # fmt: skip
    assert sources("products") == {"B": '"board,bracket,anchor,tape"'}
    assert set(sources("stock")) == {"A", "E"}


def test_untouched_it_reads_as_nothing_filled_in_yet(path: Path) -> None:
    with pytest.raises(UnusableInput) as refused:
        read_project(path)
    assert [problem.place for problem in refused.value.problems] == ["products", "levels", "runs", "gaps"]
    assert all("nothing is filled in" in problem.message for problem in refused.value.problems)


def test_filled_in_below_the_examples_it_is_a_project(book: Workbook, tmp_path: Path) -> None:
    book["products"].append(["B-1", "board", 1200, 1000, 100, 4, 212, 10, "layer"])
    book["levels"].append(["L1", 1, date(2027, 3, 1)])
    book["runs"].append(["L1-N", "L1", 2400, "B-1", "600 1800"])
    book["gaps"].append(["L1-N", 0, 150, None, None])
    book["detail"]["B2"] = 0.1
    trim = next(cell for cell in book["detail"]["A"] if cell.value == "trim")
    book["detail"].cell(trim.row, 2).value = "false"
    book["project"]["B2"] = "An invented job"
    book.save(tmp_path / "filled.xlsx")
    project = read_project(tmp_path / "filled.xlsx")
    assert project.project.name == "An invented job"
    assert project.runs[0].mullions_mm == (600, 1800)
    assert project.levels[0].needed_on == date(2027, 3, 1)
    assert not project.detail.trim
    assert project.detail.model_fields_set == {"oversize_min", "trim"}


def test_the_survey_sheet_is_one_page_with_blank_lines_and_the_cautions(book: Workbook) -> None:
    survey = book["survey"]
    assert survey.sheet_properties.pageSetUpPr.fitToPage
    assert survey.page_setup.fitToHeight != 0  # 0 would mean as many pages as it takes; left out means 1
    heading = next(row for row in survey.iter_rows() if row[0].value == "run")[0].row
    lines = survey.iter_rows(min_row=heading + 1, max_row=heading + 30, values_only=True)
    assert all(cell is None for line in lines for cell in line)
    assert set(CAUTIONS[:4]) <= set(texts(book, "survey"))
    assert any("licensed practitioner" in words for words in texts(book, "survey"))


def test_headings_stay_in_sight_and_are_repeated_in_print(book: Workbook) -> None:
    for name in TABLES:
        assert book[name].freeze_panes == "B3"
        assert book[name].print_title_rows == "$1:$1"


def test_a_workbook_that_is_there_already_is_not_overwritten(path: Path, tmp_path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(UnusableInput, match="may be filled in"):
        write_template(path)
    assert path.read_bytes() == before
    with pytest.raises(UnusableInput, match="cannot be written"):
        write_template(tmp_path / "no such folder" / "empty.xlsx")
    with pytest.raises(UnusableInput, match=r"write survey\.xlsx"):
        write_template(tmp_path / "survey.csv")
    assert list(tmp_path.iterdir()) == []
