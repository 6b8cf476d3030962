"""Scenarios out of csv and JSON, and the cells of a form: what is written comes back, faults name their row."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given

from optimiser.errors.problems import UnusableInput
from optimiser.model.scenario import Scenario
from optimiser.reading.scenario_rows import cells_of, read_scenarios, scenario_of, values_of_cells
from tests.studies.test_scenarios import drawn_scenarios


@given(drawn_scenarios())
def test_cells_are_read_back_as_the_scenario_that_wrote_them(scenario: Scenario) -> None:
    values, faults = values_of_cells(cells_of(scenario))
    assert faults == []
    assert scenario_of(values[0]) == (
        scenario.model_copy(update={"without": tuple(dict.fromkeys(scenario.without))}),
        (),
    )


def test_a_csv_has_a_row_a_scenario_and_a_column_an_option(tmp_path: Path) -> None:
    path = tmp_path / "scenarios.csv"
    path.write_text(
        "name,gap_mm,boards,precut,truck_pallets,staging\n"
        "as surveyed,,,,,\n"
        "two boards,,B-120 B-100,yes,none,level\n"
        "gaps,148-150 160/1 152,,,,\n".replace("160/1 ", "")
    )
    first, second, *gaps = read_scenarios(path)
    assert first == Scenario(name="as surveyed")
    assert second == Scenario(
        name="two boards", boards=("B-120", "B-100"), precut=True, without=("truck_pallets",), staging="level"
    )
    assert [(one.name, one.gap_mm) for one in gaps] == [
        ("gaps, 148 mm", 148), ("gaps, 149 mm", 149), ("gaps, 150 mm", 150), ("gaps, 152 mm", 152),
    ]  # fmt: skip


def test_json_is_a_list_of_objects(tmp_path: Path) -> None:
    path = tmp_path / "scenarios.json"
    path.write_text(json.dumps([{"name": "a", "staging": "level"}]))
    assert read_scenarios(path) == (Scenario(name="a", staging="level"),)
    path.write_text(json.dumps({"scenarios": [{"name": "a"}]}))
    assert read_scenarios(path) == (Scenario(name="a"),)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name,gap_mm\na,15O\n", "scenarios, row 2: scenario 'a', gap_mm is '15O': it is no gap"),
        ("name,gap_mm\na,150-140\n", "it is no gap"),
        ("name,precut\na,perhaps\n", "scenario 'a', precut is 'perhaps': give yes or no"),
        ("name,seed\n,4\n", "name: is missing; give each scenario a name of its own"),
        ("name,oversize_maxx\na,0.2\n", "there is no such option; oversize_max was meant?"),
        (
            "name,weather\na,0.2\n",
            "there is no such option; leave it out, or give one of name, gap_mm, shifted, runs, oversize_min",
        ),
        ("name\n", "has no scenario; add a row a scenario"),
    ],
)
def test_faults_name_the_row_the_scenario_the_option_and_the_mend(
    tmp_path: Path, text: str, words: str
) -> None:
    path = tmp_path / "scenarios.csv"
    path.write_text(text)
    with pytest.raises(UnusableInput) as refused:
        read_scenarios(path)
    assert words in str(refused.value)


def test_a_row_of_several_gaps_without_a_name_is_told_once(tmp_path: Path) -> None:
    path = tmp_path / "scenarios.csv"
    path.write_text("name,gap_mm\n,140-150\n")
    with pytest.raises(UnusableInput) as refused:
        read_scenarios(path)
    (told,) = refused.value.lines()
    assert "name: is missing; give each scenario a name of its own" in told
