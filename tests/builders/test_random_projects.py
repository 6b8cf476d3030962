"""The random projects of the property tests do reach the cases that they promise."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, Phase, find, given, settings

from optimiser.model.project import Project
from tests.builders.random_projects import projects

SEARCH = settings(
    max_examples=500,
    phases=[Phase.generate],
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@given(projects())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_every_random_project_is_valid_and_small(project: Project) -> None:
    assert 1 <= len(project.levels) <= 3
    assert 1 <= len(project.runs) <= 6
    assert all(200 <= run.length_mm <= 9000 for run in project.runs)
    assert Project.model_validate(project.model_dump(mode="json", by_alias=True)) == project


@pytest.mark.slow
@pytest.mark.parametrize(
    "reached",
    [
        lambda p: any(run.length_mm < p.detail.piece_length_min_mm for run in p.runs),
        lambda p: any(gap.gap_mm > p.detail.gap_max_mm for gap in p.gaps),
        lambda p: any(gap.gap_mm < p.detail.gap_min_mm for gap in p.gaps),
        lambda p: any(run.mullions_mm for run in p.runs),
        lambda p: any(len(run.board) > 1 for run in p.runs),
        lambda p: p.detail.kerf_mm > 0 and not p.detail.trim,
        lambda p: bool(p.stock) and bool(p.allowance),
        lambda p: any(level.needed_on for level in p.levels) and len(p.levels) == 3,
        lambda p: bool(p.detail.placeholders) and "trim" not in p.detail.placeholders,
    ],
    ids=[
        "short run",
        "wide gap",
        "narrow gap",
        "mullion",
        "boards",
        "kerf",
        "stock and allowance",
        "dates",
        "placeholders",
    ],
)
def test_the_hard_cases_are_reached(reached: Callable[[Project], bool]) -> None:
    find(projects(), reached, settings=SEARCH)
