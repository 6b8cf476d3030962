"""`refit`, `stagings` and `precut` as their users meet them: words, exit codes, clean JSON, whole files or none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from optimiser.model.project import Project
from tests.builders.command import run
from tests.builders.small_plan import small_project


@pytest.fixture
def planned(tmp_path: Path) -> Path:
    """A folder with the small project, its plan in `out/`, and a newer survey of L02."""
    project = small_project()
    write(tmp_path / "house.json", project)
    gaps = tuple(
        gap.model_copy(update={"gap_mm": 140 if gap.run == "L02-N" else 150}) for gap in project.gaps
    )
    write(tmp_path / "newer.json", project.model_copy(update={"gaps": gaps}))
    assert run("plan", "house.json", cwd=tmp_path).returncode == 0
    return tmp_path


def write(path: Path, project: Project) -> None:
    path.write_text(project.model_dump_json(by_alias=True, exclude_unset=True))


def test_refit_says_what_goes_where_and_its_json_is_alone_on_stdout(planned: Path) -> None:
    command = ("refit", "out/plan.json", "--survey", "newer.json")
    told = run(*command, cwd=planned)
    assert (told.returncode, told.stderr) == (0, "")
    assert "Re-used: 4 of 4; no assignment can re-use more than 4: proved." in told.stdout
    found = json.loads(run(*command, "--json", "--out", "refitted", cwd=planned).stdout)
    assert {"reused_pieces", "moves", "recut", "order"} <= found.keys()
    assert found == json.loads((planned / "refitted" / "refit.json").read_text())


@pytest.mark.parametrize(
    "levels",
    [
        ["--cut-levels", "L01,L02", "--fitted-levels", "L01"],
        ["--cut-levels", "L01 L02", "--fitted-levels", "L01"],
        ["--cut-levels", "L01", "L02", "--fitted-levels", "L01"],
        ["--cut-levels", "L01", "--cut-levels", "L02", "--fitted-levels", "L01"],
    ],
)
def test_levels_are_named_in_any_of_the_usual_ways(planned: Path, levels: list[str]) -> None:
    found = run("refit", *levels, "out/plan.json", "--survey", "newer.json", "--json", cwd=planned)
    assert found.returncode == 0, found.stderr
    values = json.loads(found.stdout)
    assert (values["cut_levels"], values["fitted_levels"]) == (["L01", "L02"], ["L01"])


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (
            ["out/plan.json", "--survey", "newer.json", "--cut-levels", "L09"],
            1,
            "L09, which is no level of the plan",
        ),
        (
            ["house.json", "--survey", "newer.json"],
            2,
            "is a project, not a plan; give it to barrier-orders plan",
        ),
        (["out/plan.json", "--survey", "gone.json"], 2, "gone.json: there is no such file"),
        (["out/plan.json"], 2, "--survey"),
    ],
)
def test_refit_refuses_in_plain_words(planned: Path, arguments: list[str], code: int, said: str) -> None:
    found = run("refit", *arguments, "--out", "refitted", cwd=planned)
    assert (found.returncode, found.stdout) == (code, "")
    assert said in found.stderr
    assert not (planned / "refitted").exists()


def test_stagings_puts_the_modes_side_by_side(planned: Path) -> None:
    found = run("stagings", "house.json", "--out", "modes", cwd=planned)
    assert (found.returncode, found.stderr) == (0, "")
    assert "Proved" in found.stdout
    rows = [line.split() for line in found.stdout.splitlines()]
    assert [row[:4] for row in rows if row[:1] in (["level"], ["carry"], ["whole"])] == [
        ["level", "2", "2", "yes"],
        ["carry", "2", "1", "yes"],
        ["whole", "2", "1", "yes"],
    ]
    assert {path.name for path in (planned / "modes").iterdir()} == {
        "stagings.csv", "frontier.csv", "frontier.svg", "levels-level.svg", "levels-carry.svg", "levels-whole.svg",
    }  # fmt: skip
    values = json.loads(run("stagings", "house.json", "--json", cwd=planned).stdout)
    assert [option["boards"] for option in values["stagings"]] == [2, 2, 2]


def test_precut_of_a_measured_building_says_that_nothing_is_nominal(planned: Path) -> None:
    found = run("precut", "house.json", "--draws", "20", cwd=planned)
    assert (found.returncode, found.stderr) == (0, "")
    assert "No gap is nominal" in found.stdout
    assert (
        len(json.loads(run("precut", "house.json", "--draws", "20", "--json", cwd=planned).stdout)["levels"])
        == 2
    )


@pytest.mark.parametrize(
    "command", ["plan", "stagings", "gaps --from 140 --to 141", "refit out/plan.json --survey"]
)
def test_a_place_that_cannot_be_written_is_told_and_nothing_is_left(planned: Path, command: str) -> None:
    (planned / "taken").write_text("mine")
    name, *more = command.split()
    found = run(name, *more, "house.json", "--out", "taken/deeper", cwd=planned)
    assert (found.returncode, found.stdout) == (1, "")
    assert "--out" in found.stderr
    assert (planned / "taken").read_text() == "mine"
    assert {path.name for path in planned.iterdir()} == {"house.json", "newer.json", "out", "taken"}
