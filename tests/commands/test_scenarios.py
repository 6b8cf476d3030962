"""`barrier-orders scenarios` as its user meets it: files, words, exit codes, nothing half-written."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from optimiser.reading.scenario_rows import read_scenarios
from optimiser.studies.scenario_result import ScenarioComparison
from tests.builders.command import run
from tests.builders.levels import building

README = Path(__file__).resolve().parents[2] / "README.md"


@pytest.fixture
def house(tmp_path: Path) -> Path:
    (tmp_path / "house.json").write_text(building().model_dump_json(by_alias=True, exclude_unset=True))
    return tmp_path


def test_scenarios_writes_the_table_the_workbook_and_the_charts(house: Path) -> None:
    (house / "options.csv").write_text("name,staging,gap_mm\nas surveyed,,\nlevel,level,\ngaps,,150-151\n")
    found = run("scenarios", "house.json", "--scenarios", "options.csv", cwd=house)
    assert (found.returncode, found.stderr) == (0, "")
    assert "Not beaten on cost and waiting" in found.stdout
    assert "nothing may be cut to it" in " ".join(found.stdout.split())
    rows = list(csv.DictReader((house / "out" / "scenarios.csv").open(newline="")))
    assert [(row["scenario"], row["boards"]) for row in rows] == [
        ("as surveyed", "1"), ("level", "3"), ("gaps, 150 mm", "1"), ("gaps, 151 mm", "2"),
    ]  # fmt: skip
    assert {path.name for path in (house / "out").iterdir()} == {
        "scenarios.csv", "scenarios.xlsx", "scenarios-gaps.svg", "scenarios-waiting.svg",
    }  # fmt: skip


def test_as_json_it_is_the_comparison_and_writes_nothing(house: Path) -> None:
    (house / "options.json").write_text(json.dumps([{"name": "a"}, {"name": "b", "staging": "level"}]))
    found = run("scenarios", "house.json", "--scenarios", "options.json", "--json", cwd=house)
    compared = ScenarioComparison.model_validate_json(found.stdout)
    assert [result.scenario.name for result in compared.results] == ["a", "b"]
    assert not (house / "out").exists()


@pytest.mark.parametrize(
    ("rows", "code", "words"),
    [
        (
            "name,oversize_max\nwide,9\n",
            2,
            "scenario 'wide', oversize_max is 9: it is too large; give at most 1",
        ),
        ("name,boards\nother,B-9\n", 1, "scenario 'other', boards: B-9 is no board of the products"),
    ],
)
def test_what_cannot_be_used_is_told_and_nothing_is_written(
    house: Path, rows: str, code: int, words: str
) -> None:
    (house / "options.csv").write_text(rows)
    found = run("scenarios", "house.json", "--scenarios", "options.csv", cwd=house)
    assert found.returncode == code
    assert words in found.stderr
    assert not (house / "out").exists()


def test_the_example_of_the_readme_can_be_read(tmp_path: Path) -> None:
    (tmp_path / "options.csv").write_text(README.read_text().split("```csv\n")[1].split("```")[0])
    names = [scenario.name for scenario in read_scenarios(tmp_path / "options.csv")]
    assert names[:3] == ["as surveyed", "each level on its own", "cheapest brackets"]
    assert len(names) == 10
