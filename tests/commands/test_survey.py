"""`barrier-orders survey` and `--marked`, as their user runs them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.builders.command import run
from tests.builders.project_tables import json_value, tables, with_cell, workbook
from tests.builders.surveys import quiet_survey, with_gap, with_run


@pytest.fixture
def survey_file(tmp_path: Path) -> Path:
    project = with_gap(quiet_survey(3), "L02-N", 9000, gap_mm=126)
    project = with_run(project, "L03-S", mullions_mm=(750, 2250, 3750))
    path = tmp_path / "survey.json"
    path.write_text(project.model_dump_json(by_alias=True, exclude_unset=True))
    return path


def test_the_questions_are_printed_and_written(survey_file: Path, tmp_path: Path) -> None:
    found = run("survey", survey_file, "--out", tmp_path / "out")
    assert found.returncode == 0, found.stderr
    assert "2 questions to 246 readings" in found.stdout
    assert "two digits swapped" in " ".join(found.stdout.split())
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"survey.csv", "re-measure.pdf"}
    with (tmp_path / "out" / "survey.csv").open(newline="") as file:
        assert [(row["run"], row["at_mm"]) for row in csv.DictReader(file)] == [
            ("L02-N", "9000"),
            ("L03-S", "5250"),
        ]


def test_json_holds_what_other_programs_ask_for(survey_file: Path, tmp_path: Path) -> None:
    found = run("survey", survey_file, "--json", cwd=tmp_path)
    first, second = json.loads(found.stdout)["questions"]
    assert {key: first[key] for key in ("rule", "level", "run", "at_mm", "value")} == {
        "rule": "digits", "level": "L02", "run": "L02-N", "at_mm": 9000, "value": "126 mm",
    }  # fmt: skip
    assert second["rule"] == "mullions"
    assert all(question["says"] and question["why"] and question["measure"] for question in (first, second))
    assert not (tmp_path / "out").exists()


def test_the_number_of_faults_comes_first_and_the_workbook_comes_back_marked(tmp_path: Path) -> None:
    faulty = workbook(tmp_path / "p.xlsx", with_cell("gaps", "C3", "15 cm"))
    back = tmp_path / "marked.xlsx"
    for command in (("survey", faulty), ("plan", faulty), ("stagings", faulty), ("allowance", faulty)):
        back.unlink(missing_ok=True)
        found = run(*command, "--marked", back, cwd=tmp_path)
        lines = found.stderr.splitlines()
        assert (found.returncode, lines[0]) == (2, "1 fault to fix in the input:")
        assert lines[-1] == f"{back}: the input with every faulty cell coloured and commented"
        assert load_workbook(back)["gaps"]["C3"].comment.text.endswith("write 150")
    assert not (tmp_path / "out").exists()


def test_what_has_no_cells_or_no_faults_is_not_marked(tmp_path: Path) -> None:
    value = json_value(tables())
    value["gaps"][0]["gap_mm"] = "15 cm"
    (tmp_path / "p.json").write_text(json.dumps(value))
    found = run("survey", tmp_path / "p.json", "--marked", tmp_path / "m.xlsx")
    assert found.returncode == 2
    assert "only a workbook or a folder of .csv has cells to mark" in found.stderr
    sound = workbook(tmp_path / "p.xlsx", tables())
    assert run("survey", sound, "--json", "--marked", tmp_path / "m.xlsx").returncode == 0
    assert not (tmp_path / "m.xlsx").exists()
    for wrong in (tmp_path / "m.csv", sound):
        assert run("survey", sound, "--marked", wrong).returncode == 2


def test_a_plan_shows_its_questions_before_its_warnings(tmp_path: Path) -> None:
    content = tables()
    content["levels"][1][2] = "2027-06-07"
    days = ("taken_on", "2027-01-04", None, None)
    content["gaps"] = [[*row, day] for row, day in zip(content["gaps"], days, strict=True)]
    content["gaps"][2][2] = "152,5"
    found = run("plan", workbook(tmp_path / "p.xlsx", content), "--out", tmp_path / "out")
    assert found.returncode == 0, found.stderr
    words = found.stdout
    order = [
        words.index(word) for word in ("Questions to the survey: 1", "How cells", "Warnings", "Cautions")
    ]
    assert order == sorted(order)
    plan = json.loads((tmp_path / "out" / "plan.json").read_text())
    keys = list(plan)
    assert keys.index("questions") < keys.index("warnings")
    assert [question["rule"] for question in plan["questions"]] == ["age"]
