"""Cells as people write them: what is accepted, what it is read as, and what is said of it."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from optimiser.errors.problems import CellError
from optimiser.model.project import Gap, Project
from optimiser.reading import UnusableInput, project_from_json, read_project
from optimiser.reading.as_written import NOMINAL, ROUNDED_UP, THE_WIDER, ReadAs, gap, tolerance
from optimiser.reading.names import KnownNames, as_compared
from tests.builders.project_tables import (
    SOUND,
    csv_folder,
    json_file,
    json_value,
    tables,
    with_cell,
    workbook,
)

read_gap = gap(1, 1000)
read_tolerance = tolerance(1000)


@pytest.mark.parametrize(
    ("written", "value", "notes", "besides"),
    [
        ("159,5", 160, (ROUNDED_UP,), {}),
        ("159.01", 160, (ROUNDED_UP,), {}),
        ("159,5 mm", 160, (ROUNDED_UP,), {}),
        ("160/166", 166, (THE_WIDER,), {"gap_top_mm": 160, "gap_bottom_mm": 166}),
        ("166 / 160,2 mm", 166, (ROUNDED_UP, THE_WIDER), {"gap_top_mm": 166, "gap_bottom_mm": 161}),
        ("~159", 159, (NOMINAL,), {"basis": "nominal"}),
        ("≈ 159", 159, (NOMINAL,), {"basis": "nominal"}),
        ("approx. 159", 159, (NOMINAL,), {"basis": "nominal"}),
        ("ca. 159", 159, (NOMINAL,), {"basis": "nominal"}),
    ],
)  # fmt: skip
def test_a_gap_is_read_as_it_is_meant_and_said(
    written: str, value: int, notes: tuple[str, ...], besides: dict[str, Any]
) -> None:
    assert read_gap(written) == ReadAs(value, notes, besides)


@pytest.mark.parametrize("written", [160, "160", " 160\N{NO-BREAK SPACE}mm", "160.0"])
def test_a_plain_gap_needs_no_note(written: Any) -> None:
    assert read_gap(written) == 160


@pytest.mark.parametrize(
    "written",
    ["160/", "160/166/170", "/160", "~", "cable 160", "160 166", "15,5", "0,15", "159,500", "-159,5"],
)
def test_what_can_mean_two_things_is_still_a_fault(written: str) -> None:
    with pytest.raises(CellError):
        read_gap(written)


@pytest.mark.parametrize(
    "written", [12, "12", "±12", "± 12", "+/-12", "+/- 12 mm", "+-12", "+\N{MINUS SIGN}12"]
)
def test_a_tolerance_may_have_its_sign(written: Any) -> None:
    assert read_tolerance(written) == 12


# -- in a project


def with_gap_rows(*rows: list[Any], head: tuple[str, ...] = ("run", "at_mm", "gap_mm")) -> dict[str, Any]:
    rest = [["L2-N", 0, 140] + [None] * (len(head) - 3)]
    return tables(gaps=[list(head), *rows, *rest])


def read_in_every_form(folder: Path, content: dict[str, Any]) -> list[Project]:
    return [
        read_project(workbook(folder / "p.xlsx", content)),
        read_project(csv_folder(folder / "csv", content)),
        read_project(json_file(folder / "p.json", content)),
    ]


def test_top_and_bottom_in_one_cell_or_two_columns_are_the_same_gap(tmp_path: Path) -> None:
    one = with_gap_rows(["L1-N", 0, "160/166"])
    two = with_gap_rows(
        ["L1-N", 0, None, 160, 166], head=("run", "at_mm", "gap_mm", "gap_top_mm", "gap_bottom_mm")
    )
    for number, content in enumerate((one, two)):
        folder = tmp_path / str(number)
        folder.mkdir()
        for project in read_in_every_form(folder, content):
            read = project.gaps[0]
            assert (read.gap_mm, read.gap_top_mm, read.gap_bottom_mm) == (166, 160, 166)
            assert any(THE_WIDER in note for note in project.reading_notes)


def test_the_two_columns_can_stand_without_gap_mm(tmp_path: Path) -> None:
    content = tables(gaps=[["run", "at_mm", "top", "bottom"], ["L1-N", 0, 160, 166], ["L2-N", 0, 141, 140]])
    for project in read_in_every_form(tmp_path, content):
        assert [read.gap_mm for read in project.gaps] == [166, 141]


def test_a_gap_that_is_not_the_wider_of_its_two_readings_is_a_fault(tmp_path: Path) -> None:
    content = with_gap_rows(
        ["L1-N", 0, 150, 160, 166], head=("run", "at_mm", "gap_mm", "gap_top_mm", "gap_bottom_mm")
    )
    with pytest.raises(
        UnusableInput, match="is not the wider of gap_top_mm 160 and gap_bottom_mm 166; write 166"
    ):
        read_project(workbook(tmp_path / "p.xlsx", content))
    with pytest.raises(ValueError, match="not the wider"):
        Gap(run="L1-N", at_mm=0, gap_mm=150, gap_top_mm=160)


def test_one_of_the_two_readings_is_the_gap_where_the_other_is_missing(tmp_path: Path) -> None:
    content = with_gap_rows(
        ["L1-N", 0, None, None, 166], head=("run", "at_mm", "gap_mm", "gap_top_mm", "gap_bottom_mm")
    )
    assert read_project(workbook(tmp_path / "p.xlsx", content)).gaps[0].gap_mm == 166


def test_a_row_without_any_gap_is_told_once(tmp_path: Path) -> None:
    content = with_gap_rows(
        ["L1-N", 0, None, None, None], head=("run", "at_mm", "gap_mm", "gap_top_mm", "gap_bottom_mm")
    )
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "p.xlsx", content))
    assert refused.value.lines() == ("gaps, row 2, gap_mm: is missing; write the gap in mm",)


def test_an_approximate_gap_is_nominal_whatever_its_basis_says(tmp_path: Path) -> None:
    content = with_gap_rows(
        ["L1-N", 0, "~150", "measured", "±12"], head=("run", "at_mm", "gap_mm", "basis", "tolerance_mm")
    )
    for project in read_in_every_form(tmp_path, content):
        read = project.gaps[0]
        assert (read.gap_mm, read.basis, read.tolerance_mm) == (150, "nominal", 12)
        assert any(NOMINAL in note for note in project.reading_notes)


def test_a_hundred_decimals_make_one_note_that_names_the_first(tmp_path: Path) -> None:
    rows = [["L1-N", 10 * number, "150.5"] for number in range(100)]
    project = read_project(workbook(tmp_path / "p.xlsx", with_gap_rows(*rows)))
    (note,) = project.reading_notes
    assert note.startswith(f"gaps, gap_mm: {ROUNDED_UP} (row 2 150.5, row 3 150.5")
    assert note.endswith("and 94 more).")
    assert {read.gap_mm for read in project.gaps if read.run == "L1-N"} == {151}


def test_decimals_of_lengths_positions_and_mullions_are_rounded_up_too(tmp_path: Path) -> None:
    content = with_gap_rows(["L1-N", 1500.5, 150])
    content["runs"][1][2], content["runs"][1][4] = 2999.2, "600.4 1800"
    project = read_project(workbook(tmp_path / "p.xlsx", content))
    assert (project.runs[0].length_mm, project.runs[0].mullions_mm) == (3000, (601, 1800))
    assert project.gaps[0].at_mm == 1501
    assert len(project.reading_notes) == 3


def test_a_rule_of_the_detail_is_never_rounded(tmp_path: Path) -> None:
    faulty = with_cell("detail", "B4", 2.5)
    with pytest.raises(UnusableInput, match="whole number of millimetres"):
        read_project(workbook(tmp_path / "p.xlsx", faulty))


def test_a_project_keeps_its_notes_through_json(tmp_path: Path) -> None:
    project = read_project(workbook(tmp_path / "p.xlsx", with_gap_rows(["L1-N", 0, "160/166"])))
    assert project.reading_notes
    assert project_from_json(project.model_dump(mode="json", by_alias=True)) == project
    with pytest.raises(UnusableInput, match="must be a list of texts"):
        project_from_json(json_value(SOUND) | {"reading_notes": [1]})


def test_the_day_of_a_reading_and_the_run_that_is_joined_are_read(tmp_path: Path) -> None:
    content = with_gap_rows(["L1-N", 0, 150, "2027-01-04"], head=("run", "at_mm", "gap_mm", "taken_on"))
    content["runs"] = [
        [*row, joins] for row, joins in zip(content["runs"], ("joins", "L2-N", None), strict=True)
    ]
    content["runs"][2][1] = content["runs"][1][1]  # runs that meet are of one level
    for project in read_in_every_form(tmp_path, content):
        assert project.gaps[0].taken_on == date(2027, 1, 4)
        assert [run.joins for run in project.runs] == ["L2-N", ""]


def test_the_limits_of_the_survey_are_a_table_of_their_own(tmp_path: Path) -> None:
    content = tables(
        survey_limits=[["rule", "value"], ["reading_spacing_max_mm", 2000], ["outlier_scales", 3.5]]
    )
    for project in read_in_every_form(tmp_path, content):
        limits = project.survey_limits
        assert (limits.reading_spacing_max_mm, str(limits.outlier_scales)) == (2000, "3.5")
        assert limits.model_fields_set == {"reading_spacing_max_mm", "outlier_scales"}
        assert project_from_json(project.model_dump(mode="json", by_alias=True)) == project
    content["survey_limits"][1][0] = "reading_spacing_max"
    assert read_project(workbook(tmp_path / "q.xlsx", content)).survey_limits.reading_spacing_max_mm == 2000
    content["survey_limits"][1][0] = "reading_spacings"
    with pytest.raises(UnusableInput, match="is no rule that is known here"):
        read_project(workbook(tmp_path / "r.xlsx", content))


def test_a_part_of_the_crews_work_may_take_no_time(tmp_path: Path) -> None:
    content = tables(crew_rates=[["rule", "value"], ["notch_minutes", 0], ["rip_minutes", "1.5 min"]])
    for project in read_in_every_form(tmp_path, content):
        rates = project.crew_rates
        assert (str(rates.notch_minutes), str(rates.rip_minutes)) == ("0", "1.5")


# -- names


@pytest.mark.parametrize(
    "written",
    [
        "L1–N",
        "L1−N",
        "L1‒N",
        "L1‑N",
        "L1 - N",
        "L1\N{NO-BREAK SPACE}–\N{THIN SPACE}N",
        "L1-N\u200b",
        " L1-N ",
    ],
)
def test_dashes_and_spaces_of_every_kind_match(written: str, tmp_path: Path) -> None:
    assert as_compared(written) == "L1-N"
    content = tables()
    for row in content["gaps"][1:]:
        row[0] = written if row[0] == "L1-N" else row[0]
    for project in read_in_every_form(tmp_path, content):
        assert [read.run for read in project.gaps] == ["L1-N", "L1-N", "L2-N"]


def test_codes_and_levels_match_too_and_keep_the_spelling_of_their_table(tmp_path: Path) -> None:
    content = tables()
    content["products"][1][0] = "B–120"
    content["levels"][1][0] = "L\N{NO-BREAK SPACE}1"
    content["runs"][1][1] = "L 1"
    content["stock"][1][4] = "L 1"
    for project in read_in_every_form(tmp_path, content):
        assert project.runs[0].board == ("B–120",)
        assert project.runs[0].level == project.stock[0].level == project.levels[0].level


def test_two_names_that_nobody_can_tell_apart_are_one_too_many(tmp_path: Path) -> None:
    content = tables()
    content["runs"].append(["L1–N", "L1", 3000, "B-120", None])
    with pytest.raises(UnusableInput, match="runs, row 4, run = 'L1–N': is already in row 2"):
        read_project(workbook(tmp_path / "p.xlsx", content))
    assert KnownNames(["A-1", "A–1"]).spelt_here("A − 1") == "A − 1"  # which of the two is not known


# -- faults told once


def test_a_level_that_is_missing_is_told_once_with_every_cell_that_names_it(tmp_path: Path) -> None:
    content = tables()
    content["runs"] = [content["runs"][0]] + [[f"L9-{n}", "L9", 3000, "B-120", None] for n in range(12)]
    content["gaps"] = [content["gaps"][0]] + [[f"L9-{n}", 0, 150, None, None] for n in range(12)]
    with pytest.raises(UnusableInput) as refused:
        read_project(workbook(tmp_path / "p.xlsx", content))
    (problem,) = refused.value.problems
    assert str(problem).startswith(
        "runs, row 2, level = 'L9': there is no such level (and in 11 more rows); "
    )
    assert (problem.cell, problem.also) == ("B2", tuple(f"B{row}" for row in range(3, 14)))
    assert refused.value.heading == "1 fault to fix in the input:"
