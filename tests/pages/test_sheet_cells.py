"""Faults on a picture of their cells: which rows and columns are shown, and what is said under them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from api.pages.sheet_cells import letters_of, pictures_from, pictures_of, place_of
from api.projects.reading import Upload

GRID = [["run", "at_mm", "gap_mm"], *(["L1-N", str(1500 * n), str(140 + n)] for n in range(30))]


def fault(cell: str | None, row: int | None = None, table: str = "gaps", **more: Any) -> dict[str, Any]:
    return {"table": table, "row": row, "column": "gap_mm", "cell": cell, "value": "15 cm", "message": "bad",
            "mend": "write 150", **more}  # fmt: skip


def test_columns_are_named_as_the_spreadsheet_does() -> None:
    assert [letters_of(index) for index in (0, 25, 26, 27, 701, 702)] == ["A", "Z", "AA", "AB", "ZZ", "AAA"]
    assert place_of("C14") == (14, 2)
    assert place_of("AB3") == (3, 27)
    assert place_of("C15:C16") == (15, 2)
    assert place_of(None) is None


def test_a_fault_is_shown_with_its_headings_and_the_rows_around_it() -> None:
    (picture,) = pictures_from({"gaps": GRID}, [fault("C20", 20)])
    assert [row.number for row in picture.rows] == [1, 19, 20, 21]
    assert [row.after_gap for row in picture.rows] == [False, True, False, False]
    assert picture.columns == ("A", "B", "C")
    bad = picture.rows[2]
    assert [cell.fault for cell in bad.cells] == [0, 0, 1]
    assert bad.cells[2].text == GRID[19][2]
    assert bad.faults[0].fix == "write 150"


def test_faults_near_each_other_share_their_rows_and_each_has_its_number() -> None:
    (picture,) = pictures_from({"gaps": GRID}, [fault("C3", 3), fault("B4", 4), fault("C4", 4)])
    assert [row.number for row in picture.rows] == [1, 2, 3, 4, 5]
    assert [len(row.faults) for row in picture.rows] == [0, 0, 1, 2, 0]
    assert [cell.fault for cell in picture.rows[3].cells] == [0, 2, 3]
    assert picture.fault_count == 3


def test_a_fault_without_a_cell_stands_under_its_row_and_one_without_a_row_beside_the_sheet() -> None:
    (picture,) = pictures_from({"gaps": GRID}, [fault(None, 4), fault(None, None)])
    assert [said.number for row in picture.rows for said in row.faults] == [1]
    assert [said.number for said in picture.elsewhere] == [2]


def test_a_sheet_that_cannot_be_shown_still_says_its_faults() -> None:
    pictures = pictures_from({}, [fault("C3", 3), fault(None, None, table="levels")])
    assert [(picture.sheet, picture.rows, picture.fault_count) for picture in pictures] == [
        ("gaps", (), 1),
        ("levels", (), 1),
    ]


def test_of_a_wide_sheet_only_the_columns_around_the_faults_are_shown() -> None:
    wide = [[f"{row}.{column}" for column in range(40)] for row in range(5)]
    (picture,) = pictures_from({"gaps": wide}, [fault("T3", 3)])
    assert len(picture.columns) <= 10
    assert {"A", "S", "T", "U"} <= set(picture.columns)


def test_what_is_no_workbook_is_answered_without_a_picture(tmp_path: Path) -> None:
    upload = Upload("files", {"survey.xlsx": b"PK\x03\x04 broken"})
    (picture,) = pictures_of(upload, [fault(None, None, table="survey.xlsx")])
    assert picture.rows == ()
    assert picture.elsewhere[0].message == "bad"
