"""The compiled bound over joints gives what its readable reference gives: the least price, and a layout of it."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.joints.stretches import Stretches, stretches_of
from optimiser.kernels import least_priced
from optimiser.kernels.least_priced import least_priced_layouts
from optimiser.model.project import Project
from tests.builders.random_projects import projects
from tests.joints.test_layout import one_run


def table(stretches: Stretches, seed: int) -> np.ndarray[tuple[int, int, int], np.dtype[np.int64]]:
    """A price table that rises with neither width nor length."""
    random = np.random.default_rng(seed)
    return random.integers(0, 10**6, (1, stretches.widest + 1, 1251), dtype=np.int64)


def both(stretches: Stretches, seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    price = table(stretches, seed)
    arguments = stretches.tables, price, stretches.rules
    least, rows = least_priced_layouts(*arguments)
    with monkeypatch.context() as patched:
        patched.setattr(least_priced, "compiled_library", lambda name: None)
        expected, expected_rows = least_priced_layouts(*arguments)
    assert least.tolist() == expected.tolist()
    assert rows.tolist() == expected_rows.tolist()


@settings(max_examples=25, deadline=None)
@given(projects(max_runs=2), st.integers(0, 1000), st.booleans())
def test_any_runs_are_alike(project: Project, seed: int, fewest: bool) -> None:
    try:
        stretches = stretches_of(project, project.runs, [0] * len(project.runs)).every(30)
    except ValueError:
        return  # nothing can be laid out
    with pytest.MonkeyPatch.context() as patched:
        both(stretches if fewest else stretches.any_number_of_pieces(), seed, patched)


def test_steep_gaps_are_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """Tapered pieces over several measured positions."""
    for seed in range(4):
        random = Random(seed)
        gaps = [(at, random.randrange(80, 200)) for at in range(0, 2600, 250)]
        project = one_run(2600, gaps, piece_length_min_mm=200)
        both(stretches_of(project, project.runs, [0]).every(20), seed, monkeypatch)


def test_a_table_that_is_not_there_is_refused() -> None:
    project = one_run(2500, [(0, 150)])
    stretches = stretches_of(project, project.runs, [1])
    with pytest.raises(ValueError, match="a table that is not there"):
        stretches.least_priced(table(stretches, 1))


def test_measured_positions_must_lie_ahead() -> None:
    project = one_run(2500, [(0, 150)])
    stretches = stretches_of(project, project.runs, [0])
    behind = stretches.tables._replace(next_knot=np.zeros_like(stretches.tables.next_knot))
    with pytest.raises(ValueError, match="beyond its position"):
        least_priced_layouts(behind, table(stretches, 1), stretches.rules)


@pytest.mark.parametrize("at", [[1, 2500], [0, 2499], [0, 0]])
def test_measured_positions_must_reach_over_the_stretch_and_ascend(at: list[int]) -> None:
    project = one_run(2500, [(0, 150), (2500, 150)])
    stretches = stretches_of(project, project.runs, [0])
    wrong = stretches.tables._replace(knot_at=np.array(at, dtype=np.int64))
    with pytest.raises(ValueError, match="knot_at must ascend"):
        least_priced_layouts(wrong, table(stretches, 1), stretches.rules)
