"""`barrier-orders gaps` and `allowance` as their user meets them: files, words, exit codes, nothing half-written."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from optimiser.model.project import Anchor, Board, Bracket, Gap, Level, Project, Run, Tape
from tests.builders.command import run


def written(path: Path, *, tolerance_mm: int | None) -> Path:
    project = Project(
        project={"name": "Example House (invented)"},
        products=(
            Board(code="B-120", length_mm=1200, width_mm=1000, per_pack=4, price="212.00"),
            *(Bracket(code=f"K-{reach}", length_mm=reach) for reach in range(90, 150, 10)),
            Anchor(code="A-8", per_pack=100),
            Tape(code="T-75", length_mm=45_000),
        ),
        levels=(Level(level="L1", sequence=1),),
        runs=(Run(run="N", level="L1", length_mm=36_000, board=("B-120",)),),
        gaps=(Gap(run="N", at_mm=0, gap_mm=150, basis="nominal", tolerance_mm=tolerance_mm),),
    )
    path.write_text(project.model_dump_json(by_alias=True, exclude_unset=True))
    return path


@pytest.fixture
def project(tmp_path: Path) -> Path:
    return written(tmp_path / "house.json", tolerance_mm=10)


def test_gaps_writes_a_table_and_a_chart_and_says_what_a_gap_saves(project: Path, tmp_path: Path) -> None:
    found = run("gaps", project, "--from", 149, "--to", 152, cwd=tmp_path)
    assert (found.returncode, found.stderr) == (0, "")
    assert "150 mm instead of 151 mm saves 1 of 6 boards; 6 strips a board instead of 5" in found.stdout
    rows = list(csv.DictReader((tmp_path / "out" / "gaps.csv").open(newline="")))
    assert [(row["gap_mm"], row["boards"], row["lower_bound"]) for row in rows] == [
        ("149", "5", "5"), ("150", "5", "5"), ("151", "6", "6"), ("152", "6", "6"),
    ]  # fmt: skip
    assert (tmp_path / "out" / "gaps.svg").read_text().startswith("<svg")


def test_gaps_as_json_writes_nothing_unless_asked(project: Path, tmp_path: Path) -> None:
    command = ("gaps", project, "--from", 100, "--to", 140, "--step", 20, "--oversize", "0.1:0.12", "--oversize",
               "0.1:0.2", "--boards", "all", "--json")  # fmt: skip
    found = run(*command, cwd=tmp_path)
    assert found.returncode == 0
    assert [option["gap_mm"] for option in json.loads(found.stdout)["options"]] == [100, 120, 140] * 2
    assert not (tmp_path / "out").exists()
    assert run(*command, "--out", "here", cwd=tmp_path).returncode == 0
    assert {path.name for path in (tmp_path / "here").iterdir()} == {"gaps.csv", "gaps.svg"}


@pytest.mark.parametrize(
    ("options", "code", "said"),
    [
        (("--from", 20, "--to", 10), 1, "swap them"),
        (("--from", 10, "--to", 20, "--boards", "B-7"), 1, "B-7 is no board of the products; they are B-120"),
        (("--from", 10, "--to", 20, "--oversize", "10:15"), 2, "such as 0.10:0.15"),
        (("--from", 10), 2, "--to"),
    ],
)
def test_gaps_refuses_what_makes_no_sense(
    project: Path, tmp_path: Path, options: tuple[object, ...], code: int, said: str
) -> None:
    found = run("gaps", project, *options, cwd=tmp_path)
    assert found.returncode == code
    assert said in " ".join(found.stderr.replace("│", " ").split())
    assert not (tmp_path / "out").exists()


def test_allowance_as_json_is_the_contracts(project: Path, tmp_path: Path) -> None:
    command = ("allowance", project, "--draws", 60, "--seed", 3, "--service-level", 0.9, "--json")
    found = run(*command, cwd=tmp_path)
    assert (found.returncode, found.stderr) == (0, "")
    values = json.loads(found.stdout)
    assert values["boards"]["B-120"]["order"] >= values["boards"]["B-120"]["median"]
    assert values["brackets"]["K-110"]["median"] > 0
    assert (values["draws"], values["seed"], values["service_level"]) == (60, 3, 0.9)
    assert not (tmp_path / "out").exists()
    assert run(*command, cwd=tmp_path).stdout == found.stdout


def test_allowance_prints_the_order_beside_flat_percentages(project: Path, tmp_path: Path) -> None:
    found = run("allowance", project, "--draws", 40, "--shortage-cost", 9, "--surplus-cost", 1, cwd=tmp_path)
    assert found.returncode == 0
    assert "covers 0.9 of the draws" in found.stdout
    assert "plan + 10 %" in found.stdout
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"allowance.json", "allowance.svg"}


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--service-level", 1.5), "above 0 and at most 1"),
        (("--draws", 0), "0 draws"),
        (("--shortage-cost", 5), "both"),
    ],
)
def test_allowance_refuses_what_makes_no_sense(
    project: Path, tmp_path: Path, options: tuple[object, ...], said: str
) -> None:
    found = run("allowance", project, *options, cwd=tmp_path)
    assert found.returncode == 1
    assert said in found.stderr
    assert not (tmp_path / "out").exists()


def test_allowance_of_a_project_without_tolerances_is_its_plan(tmp_path: Path) -> None:
    found = run("allowance", written(tmp_path / "sure.json", tolerance_mm=None), cwd=tmp_path)
    assert found.returncode == 0, found.stderr
    assert "Nothing is drawn" in found.stdout
    assert "How good the quick cutting is" not in found.stdout
