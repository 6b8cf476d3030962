"""Edges and details as they are read: junctions, named details, one board a run, mullions of a known size."""

from __future__ import annotations

import copy
import csv
from pathlib import Path
from typing import Any

import pytest

from optimiser.errors.problems import ProblemList
from optimiser.model.project import Detail, Project
from optimiser.reading import UnusableInput, project_from_json, read_project
from optimiser.reading.grids import details_of_grid, fields_of_grid
from optimiser.reading.tables import DETAIL

SOUND: dict[str, Any] = {
    "detail": {"oversize_min": 0.10, "kerf_mm": 0, "trim": True},
    "details": {"thin": {"oversize_min": 0.12, "kerf_mm": 0, "trim": True}},
    "products": [
        {"code": "B-120", "kind": "board", "length_mm": 1200, "width_mm": 1000, "thickness_mm": 120},
        {"code": "B-120W", "kind": "board", "length_mm": 1200, "width_mm": 600, "thickness_mm": 120},
        {"code": "B-90", "kind": "board", "length_mm": 1200, "width_mm": 1000, "thickness_mm": 90},
    ],
    "levels": [{"level": "L1", "sequence": 1}, {"level": "L2", "sequence": 2}],
    "runs": [
        {"run": "A", "level": "L1", "length_mm": 3000, "board": ["B-120", "B-120W"], "joins": "B",
         "mullions_mm": [700], "mullion_width_mm": 60, "mullion_depth_mm": 45},
        {"run": "B", "level": "L1", "length_mm": 2000, "board": ["B-90"], "joins": "C", "detail": "thin"},
        {"run": "C", "level": "L1", "length_mm": 900, "board": ["B-120"], "joins": "A", "radius_mm": 4000},
        {"run": "D", "level": "L2", "length_mm": 900, "board": ["B-120"]},
    ],
    "gaps": [{"run": run, "at_mm": 0, "gap_mm": 150} for run in "ABCD"],
}  # fmt: skip


def with_run(name: str, **changes: Any) -> dict[str, Any]:
    document = copy.deepcopy(SOUND)
    row = next(row for row in document["runs"] if row["run"] == name)
    row.update(changes)
    return document


def faults(document: dict[str, Any]) -> list[str]:
    with pytest.raises(UnusableInput) as refused:
        project_from_json(document)
    return list(refused.value.lines())


def test_a_project_in_json_has_its_junctions_and_details() -> None:
    project = project_from_json(SOUND)
    assert [(one.run, one.joins) for one in project.building.junctions] == [
        ("A", "B"),
        ("B", "C"),
        ("C", "A"),
    ]
    assert [(edge.runs, edge.closed) for edge in project.building.edges] == [
        (("A", "B", "C"), True),
        (("D",), False),
    ]
    assert project.building.detail_of("B") == project.details["thin"]
    assert str(project.building.detail_of("B").oversize_min) == "0.12"
    assert project.building.detail_of("A") is project.detail
    assert Project.model_validate_json(project.model_dump_json()) == project


def test_a_detail_is_a_column_of_the_sheet_and_a_column_of_the_users_own_is_left_alone(
    tmp_path: Path,
) -> None:
    for table in ("products", "levels", "runs", "gaps"):
        columns = list(dict.fromkeys(key for row in SOUND[table] for key in row))
        with (tmp_path / f"{table}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(columns)
            for row in SOUND[table]:
                cells = [row.get(column) for column in columns]
                writer.writerow([" ".join(map(str, c)) if isinstance(c, list) else c for c in cells])
    (tmp_path / "detail.csv").write_text(
        "rule,value,unit,note,thin,spare,clause\n"
        "oversize_min,0.10,rate,least,0.12,0.11,4.1\n"
        "kerf_mm,0,mm,,0,0,see report\n"
        "trim,true,,,true,,\n",
        encoding="utf-8",
    )
    project = read_project(tmp_path)
    assert project == project_from_json(SOUND).model_copy(update={"details": project.details})
    assert project.details["thin"] == project_from_json(SOUND).details["thin"]
    assert set(project.details) == {"thin", "spare"}
    assert project.details["spare"].model_fields_set == {"oversize_min", "kerf_mm"}


def test_in_json_a_detail_may_be_a_key_of_each_rule_as_it_is_a_column_of_the_sheet() -> None:
    document = copy.deepcopy(SOUND)
    del document["details"]
    document["detail"] = [
        {"rule": "oversize_min", "value": 0.10, "thin": 0.12, "note": "least"},
        {"rule": "kerf_mm", "value": 0, "thin": 0, "clause": "4.1 a"},
        {"rule": "trim", "value": True, "thin": True},
    ]
    assert project_from_json(document) == project_from_json(SOUND)


def test_a_sheet_of_named_details_alone_is_read_too(tmp_path: Path) -> None:
    grid = [["rule", "only", "thin"], ["oversize_min", 0.10, 0.12], ["kerf_mm", 0, 0]]
    assert fields_of_grid(grid, "detail", DETAIL, "detail", ProblemList())[0].value is None
    found = details_of_grid(grid, DETAIL, "detail")
    assert {name: [field.value for field in fields] for name, fields in found.items()} == {
        "only": [0.10, 0],
        "thin": [0.12, 0],
    }


def test_a_detail_may_stand_without_a_column_value() -> None:
    document = copy.deepcopy(SOUND)
    document["details"]["only"] = document.pop("detail")
    for row in document["runs"]:
        row.setdefault("detail", "only")
    assert project_from_json(document).building.detail_of("A").kerf_mm == 0
    assert project_from_json(document).detail == Detail()


@pytest.mark.parametrize(
    ("document", "expected"),
    [
        (
            with_run("A", joins="b"),
            "runs[0].joins = 'b': there is no run b; write B, or the run that begins where it ends",
        ),
        (
            with_run("A", joins="D"),
            "runs[0].joins = 'D': D is on level L2, not on L1: runs of two levels do not meet; write a run of level L1"
            " that begins where it ends, or leave it blank: an open end",
        ),
        (
            with_run("C", joins="B"),
            "runs[2].joins = 'B': B is joined by A already: two runs cannot both end where it begins; keep the one that"
            " ends there",
        ),
        (
            with_run("D", joins="D"),
            "runs[3].joins = 'D': a straight run does not begin where it ends; write the run that begins where it ends,"
            " or radius_mm if the edge is a closed curve",
        ),
        (
            with_run("B", detail="thinn"),
            "runs[1].detail = 'thinn': there is no detail 'thinn'; write thin, or add details.thinn",
        ),
        (
            with_run("B", board=["B-90", "B-120"]),
            'runs[1].board = ["B-90", "B-120"]: its boards differ in thickness_mm: B-90 90, B-120 120; a tested detail'
            " is for one board, and boards of two never butt together in a run; write boards of one alone; if they are"
            " the same, correct the products",
        ),
        (
            with_run("C", radius_mm=4),
            "runs[2].radius_mm = 4: the whole circle is 25 mm long, and the run 900 mm; write the radius in"
            " millimetres: if it is in metres, write 4000, or correct the run's length",
        ),
        (
            with_run("A", mullion_width_mm=240),
            "runs[0].mullion_width_mm = 240: a mullion 240 mm wide reaches 120 mm to either side of its middle, and"
            " joint_to_mullion_min_mm (100) would let a joint stand in its notch; check the width; if it is right, the"
            " detail's joint_to_mullion_min_mm must be at least 120",
        ),
        (
            with_run("A", mullion_depth_mm=150),
            "runs[0].mullion_depth_mm = 150: a mullion 150 mm deep would reach across the gap of 150 mm to the slab;"
            " measure how far it stands into the gap",
        ),
    ],
)
def test_each_fault_names_its_place_its_value_and_its_mend(document: dict[str, Any], expected: str) -> None:
    assert expected in faults(document)


def test_two_straight_runs_that_join_each_other_are_no_loop() -> None:
    document = with_run("B", joins="A")
    del document["runs"][2]["joins"]
    (fault,) = faults(document)
    assert "two straight runs enclose nothing: it is no loop" in fault
    document["runs"][0]["radius_mm"] = 900
    assert project_from_json(document).building.edges[0].closed


def test_a_board_is_cut_with_one_saw_whatever_run_it_serves() -> None:
    document = with_run("B", board=["B-120"])
    document["details"]["thin"]["kerf_mm"] = 3
    (fault,) = faults(document)
    assert fault.startswith("runs[1].detail = 'thin': the board B-120 serves A too")
    assert "the same kerf_mm and trim" in fault
    assert project_from_json(with_run("B", board=["B-120"])).building.cutting_rules_of("B-120").kerf_mm == 0


def test_boards_of_unlike_material_are_a_fault_too() -> None:
    document = copy.deepcopy(SOUND)
    document["products"][1]["material"] = "glass wool"
    (fault,) = faults(document)
    assert "its boards differ in material: B-120 none given, B-120W glass wool" in fault


def test_faults_of_a_named_detail_have_their_path() -> None:
    document = copy.deepcopy(SOUND)
    document["details"]["thin"] |= {"taper_max_mm": "thirty", "bracket_choice": "best", "oversize_max": 0.05}
    told = faults(document)
    assert any(line.startswith("details.thin.taper_max_mm = 'thirty'") for line in told)
    assert any("must be one of nearest, cheapest, fewest_sizes" in line for line in told)
    assert any(
        line.startswith("details.thin.oversize_m") and "is above oversize_max" in line for line in told
    )
