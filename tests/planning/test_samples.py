"""The sample orders: alike in all three forms, what they claim to be, and made again by their script."""

from __future__ import annotations

import importlib.util
import itertools
import re
from pathlib import Path
from types import ModuleType

import pytest

from optimiser.model.project import Project
from optimiser.reading import UnusableInput, read_project

SAMPLES = Path(__file__).resolve().parents[2] / "sample_orders"


def sample(name: str) -> Project:
    return read_project(SAMPLES / name / f"{name}.xlsx")


@pytest.mark.parametrize("name", ["tower", "small"])
def test_workbook_csv_and_json_read_the_same(name: str) -> None:
    from_workbook = sample(name)
    assert read_project(SAMPLES / name / "csv") == from_workbook
    from_json = read_project(SAMPLES / name / f"{name}.json")
    assert from_json == from_workbook
    assert from_json.detail.placeholders == from_workbook.detail.placeholders


def test_the_tower_is_a_14_level_tower_of_four_elevations() -> None:
    tower = sample("tower")
    assert "not a real building" in tower.project.name
    assert len(tower.levels) == 14
    assert len(tower.runs) == 14 * 4
    assert all(24_000 <= run.length_mm <= 42_000 for run in tower.runs)
    pitches = {run.mullions_mm[1] - run.mullions_mm[0] for run in tower.runs}
    assert pitches == {1200, 1350, 1500}
    assert tower.detail.placeholders == ()
    assert tower.stock
    assert len(tower.allowance) == 4


def test_the_towers_gaps_are_measured_every_metre_and_a_half_and_wander_slowly() -> None:
    steps = []
    for gaps in sample("tower").gaps_of().values():
        positions = [gap.at_mm for gap in gaps]
        assert positions[:-1] == list(range(0, positions[-1], 1500))
        steps += [abs(one.gap_mm - other.gap_mm) for one, other in itertools.pairwise(gaps)]
        assert len({gap.gap_mm for gap in gaps}) > 3  # the measured gap is never the drawn one
    gentle = sum(step <= 4 for step in steps)
    assert 0.97 * len(steps) < gentle < len(steps)


def test_every_gap_of_the_samples_has_a_bracket_that_reaches_far_enough() -> None:
    for name in ("tower", "small"):
        project = sample(name)
        reaches = [bracket.reach_mm for bracket in project.brackets]
        low, high = project.detail.bracket_insertion_min, project.detail.bracket_insertion_max
        for gap in project.gaps:
            assert any(low * gap.gap_mm <= reach <= high * gap.gap_mm for reach in reaches), gap


def test_the_small_job_warns_of_placeholders_and_has_a_nominal_level() -> None:
    small = sample("small")
    assert len(small.levels) == 2
    assert len(small.runs) == 4
    assert "tape_lap_mm" in small.detail.placeholders
    assert {gap.basis for gap in small.gaps} == {"measured", "nominal"}


def test_the_faulty_workbook_gives_all_of_its_messages() -> None:
    with pytest.raises(UnusableInput) as refused:
        read_project(SAMPLES / "faulty" / "faulty.xlsx")
    expected = (SAMPLES / "faulty" / "expected_messages.txt").read_text(encoding="utf-8").splitlines()
    assert list(refused.value.lines()) == expected


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_script_makes_the_committed_samples_anew(tmp_path: Path) -> None:
    script().main(tmp_path)
    for name in ("tower", "small"):
        assert read_project(tmp_path / name / f"{name}.json") == sample(name)
        for file in (SAMPLES / name / "csv").iterdir():
            assert (tmp_path / name / "csv" / file.name).read_bytes() == file.read_bytes()
    with pytest.raises(UnusableInput) as recut:
        read_project(tmp_path / "faulty" / "faulty.xlsx")
    assert any(
        re.fullmatch(r"gaps, row 4, gap_mm = '15 cm': .*; write 150", line) for line in recut.value.lines()
    )
