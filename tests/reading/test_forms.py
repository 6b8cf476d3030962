"""Workbook, csv folder and JSON: the same tables give the same project, however they are written."""

from __future__ import annotations

import json
import time
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from optimiser.model.detail import CHOICES
from optimiser.model.project import Project
from optimiser.reading import UnusableInput, project_from_json, project_from_workbook, read_project
from tests.builders.project_tables import (
    SOUND,
    csv_folder,
    json_file,
    json_value,
    tables,
    with_cell,
    workbook,
)
from tests.builders.random_projects import projects


@pytest.fixture(scope="module")
def sound() -> Project:
    return project_from_json(json_value(SOUND))


def test_the_sound_project_is_read_field_by_field(sound: Project) -> None:
    assert sound.products[0].price == Decimal("212.50")
    assert sound.levels[1].needed_on == date(2027, 3, 1)
    assert sound.runs[0].mullions_mm == (600, 1800)
    assert sound.gaps[2].basis == "nominal"
    assert sound.stock[0].quantity == 2
    assert sound.allowance[0].fraction == Decimal("0.03")
    assert sound.detail.model_fields_set == {"oversize_min", "oversize_max", "kerf_mm"}


def test_all_three_forms_are_the_same_project(sound: Project, tmp_path: Path) -> None:
    path = workbook(tmp_path / "p.xlsx", SOUND)
    for project in (
        read_project(path),
        project_from_workbook(path.read_bytes()),
        read_project(csv_folder(tmp_path / "csv", SOUND)),
        read_project(json_file(tmp_path / "p.json", SOUND)),
    ):
        assert project == sound
        assert project.detail.placeholders == sound.detail.placeholders


@pytest.mark.parametrize(
    ("sheet", "headings"),
    [
        ("gaps", ["Run", "At (mm)", "Gap [mm]", "BASIS", "Tolerance ± mm"]),
        ("runs", ["run", "level", "Length", "boards", "Mullions (mm)"]),
        ("products", ["Code", "Kind", "Length_MM", "width mm", "per pack", "Price (AUD)"]),
        ("levels", ["Level", "Sequence ", "Needed on"]),
        ("allowance", ["kind", "Fraction (%)"]),
    ],
)
def test_headings_may_carry_capitals_spaces_and_units(
    sheet: str, headings: list[str], sound: Project, tmp_path: Path
) -> None:
    assert read_project(workbook(tmp_path / "p.xlsx", with_headings(sheet, headings))) == sound


def with_headings(sheet: str, headings: list[str]) -> dict[str, list[list[object]]]:
    return tables(**{sheet: [headings, *SOUND[sheet][1:]]})


def test_columns_in_any_order_blank_rows_titles_and_own_columns_do_no_harm(
    sound: Project, tmp_path: Path
) -> None:
    gaps = [[row[2], None, row[1], row[0], row[3], row[4], "seen by the surveyor"] for row in SOUND["gaps"]]
    gaps[0][6] = "remark"
    gaps[0][1] = None
    gaps = [["Survey of an invented job"], [], gaps[0], gaps[1], [], gaps[2], [" "], gaps[3]]
    changed = tables(gaps=gaps, notes=[["anything"], ["at all"]])
    assert read_project(workbook(tmp_path / "p.xlsx", changed)) == sound
    assert read_project(csv_folder(tmp_path / "csv", changed)) == sound


@pytest.mark.parametrize(
    "project",
    [
        [["name", "Invented job"], ["currency", "AUD"], ["country", "AU"]],
        [["field", "value"], ["name", "Invented job"], ["currency", "aud"]],
        [["Name"], ["Invented job"]],
    ],
)
def test_the_project_table_may_be_a_row_or_a_list(
    project: list[list[object]], sound: Project, tmp_path: Path
) -> None:
    assert read_project(workbook(tmp_path / "p.xlsx", tables(project=project))) == sound


@pytest.mark.parametrize(
    "detail",
    [
        [
            ["unit", "Value", "Rule"],
            [None, "10 %", "Oversize min"],
            [None, "15%", "oversize_max"],
            ["mm", "2", "kerf"],
        ],
        [["oversize_min", 0.1], ["oversize_max", 0.15], ["kerf_mm", 2], ["trim", None]],
        [["oversize_min", "oversize_max", "kerf_mm"], [0.1, 0.15, 2]],
    ],
)
def test_the_detail_may_be_written_in_several_ways(
    detail: list[list[object]], sound: Project, tmp_path: Path
) -> None:
    read = read_project(workbook(tmp_path / "p.xlsx", tables(detail=detail)))
    assert read == sound
    assert read.detail.placeholders == sound.detail.placeholders


def test_json_takes_objects_where_a_table_has_one_row_or_one_value(sound: Project) -> None:
    value = json_value(SOUND)
    value["project"] = value["project"][0]
    value["detail"] = {"oversize_min": 0.1, "oversize_max": 0.15, "kerf_mm": 2}
    value["allowance"] = {"board": 0.03}
    value["runs"][0]["board"] = ["B-120"]
    assert project_from_json(value) == sound
    value["detail"] = [value["detail"]]
    assert project_from_json(value) == sound


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_csv_as_spreadsheets_save_it(encoding: str, delimiter: str, tmp_path: Path) -> None:
    changed = with_cell("project", "A2", "Café «Größe»")
    project = read_project(csv_folder(tmp_path / "csv", changed, encoding, delimiter))
    assert project.project.name == "Café «Größe»"


def test_optional_tables_may_be_missing_or_empty(tmp_path: Path) -> None:
    needed = {name: SOUND[name] for name in ("products", "levels", "runs", "gaps")}
    project = read_project(
        workbook(tmp_path / "p.xlsx", needed | {"stock": [], "allowance": [["kind", "fraction"]]})
    )
    assert project.stock == ()
    assert project.allowance == ()
    assert set(project.detail.placeholders) == set(type(project.detail).model_fields) - CHOICES


def test_names_that_look_like_numbers_stay_names(tmp_path: Path) -> None:
    changed = tables(
        levels=[["level", "sequence"], [1, 1], [2, 2]],
        runs=[["run", "level", "length_mm", "board"], [101, 1, 3000, "B-120"], [201, 2, 3000, "B-120"]],
        gaps=[["run", "at_mm", "gap_mm"], [101, 0, 150], [201, 0, 150]],
        stock=[],
    )
    for project in (
        read_project(workbook(tmp_path / "p.xlsx", changed)),
        read_project(csv_folder(tmp_path / "csv", changed)),
    ):
        assert [run.run for run in project.runs] == ["101", "201"]
        assert [level.level for level in project.levels] == ["1", "2"]


def test_a_code_with_a_space_is_one_code_where_the_products_have_it(tmp_path: Path) -> None:
    changed = with_cell("runs", "D2", "Board 120 B-120")
    changed["products"].append(["Board 120", "board", 1200, 1000, 1, 1])
    with pytest.raises(UnusableInput):  # two codes, of which one has a space: a list says it in JSON
        read_project(workbook(tmp_path / "p.xlsx", changed))
    changed["runs"][1][3] = "Board 120"
    assert read_project(workbook(tmp_path / "q.xlsx", changed)).runs[0].board == ("Board 120",)


@given(projects())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_projects_own_json_reads_back_to_the_same_project(project: Project) -> None:
    dumped = project.model_dump(mode="json", by_alias=True)
    assert project_from_json(json.loads(json.dumps(dumped))) == project
    given_only = project.model_dump(mode="json", by_alias=True, exclude_unset=True)
    assert project_from_json(given_only).detail.placeholders == project.detail.placeholders


@pytest.mark.slow
def test_a_survey_of_80_000_cells_is_read(tmp_path: Path) -> None:
    """That it takes well under a second is measured where timings belong; here, that nothing of it is lost."""
    runs = [["run", "level", "length_mm", "board"]] + [[f"R{n}", "L1", 30_000, "B-120"] for n in range(1000)]
    gaps = [["run", "at_mm", "gap_mm", "basis"]]
    gaps += [[f"R{n // 20}", n % 20 * 1500, 120 + n % 50, "measured"] for n in range(20_000)]
    path = workbook(tmp_path / "p.xlsx", tables(runs=runs, gaps=gaps))
    started = time.perf_counter()
    project = read_project(path)
    assert time.perf_counter() - started < 20  # only a guard against something quadratic
    assert len(project.gaps) == 20_000
    assert project.gaps[-1].gap_mm == 120 + 19_999 % 50
