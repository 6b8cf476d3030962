"""The process by which nominal gaps err: its spread, its correlation, and what is measured stays."""

from __future__ import annotations

from math import exp

import numpy as np
import pytest

from optimiser.model.project import Board, Detail, Gap, Level, Project, Run
from optimiser.simulation.draws import ToleranceProcess, is_drawn, markov_steps, tolerance_process


def edge(length_mm: int, *gaps: Gap, correlation_length_mm: int = 3000) -> Project:
    return Project(
        detail=Detail(correlation_length_mm=correlation_length_mm),
        products=(Board(code="B", length_mm=1200, width_mm=1000),),
        levels=(Level(level="L1", sequence=1),),
        runs=(Run(run="R", level="L1", length_mm=length_mm, board=("B",)),),
        gaps=gaps,
    )


def nominal(at_mm: int, gap_mm: int, tolerance_mm: int | None) -> Gap:
    return Gap(run="R", at_mm=at_mm, gap_mm=gap_mm, basis="nominal", tolerance_mm=tolerance_mm)


def errors(process: ToleranceProcess, draws: int, seed: int = 1) -> np.ndarray:
    return process.errors(np.random.SeedSequence(seed).spawn(draws))


def test_knots_lie_about_a_metre_apart_and_keep_the_surveys_own() -> None:
    process = tolerance_process(edge(10_300, nominal(0, 150, 10), nominal(4_400, 160, 10)))
    knots = process.runs.knot_at.tolist()
    assert {0, 4_400, 10_300} <= set(knots)
    assert min(np.diff(knots)) >= 500
    assert max(np.diff(knots)) <= 1600


def test_without_a_tolerance_nothing_is_drawn_and_no_knot_is_added() -> None:
    gaps = (nominal(0, 150, None), Gap(run="R", at_mm=9_000, gap_mm=140))
    assert not is_drawn(gaps)
    process = tolerance_process(edge(9_000, *gaps))
    assert process.runs_drawn == 0
    assert process.runs.knot_at.tolist() == [0, 9_000]
    assert process.gaps(np.random.SeedSequence(0).spawn(3)).tolist() == [[150, 140]] * 3


def test_the_tolerance_is_two_standard_deviations_everywhere() -> None:
    process = tolerance_process(edge(12_000, nominal(0, 150, 12), nominal(12_000, 150, 24)))
    drawn = process.gaps(np.random.SeedSequence(5).spawn(4000))
    expected = np.interp(process.runs.knot_at, [0, 12_000], [6.0, 12.0])
    np.testing.assert_allclose(drawn.std(axis=0), np.sqrt(expected**2 + 1 / 12), rtol=0.05)
    np.testing.assert_allclose(drawn.mean(axis=0), 150, atol=0.7)
    share = (np.abs(drawn - 150) <= 2 * expected).mean()
    assert 0.94 < share < 0.97  # a normal error keeps two standard deviations in 95.4 % of places


def test_the_correlation_falls_off_exponentially_with_distance() -> None:
    process = tolerance_process(edge(12_000, nominal(0, 150, 10)))
    found = np.corrcoef(errors(process, 6000))
    at = process.runs.knot_at
    expected = np.exp(-np.abs(at[:, None] - at[None, :]) / 3000)
    np.testing.assert_allclose(found, expected, atol=0.06)


def test_runs_err_independently() -> None:
    project = edge(900, nominal(0, 150, 10))
    twice = project.model_copy(
        update={
            "runs": (*project.runs, project.runs[0].model_copy(update={"run": "S"})),
            "gaps": (*project.gaps, nominal(0, 150, 10).model_copy(update={"run": "S"})),
        }
    )
    process = tolerance_process(twice)
    found = np.corrcoef(errors(process, 4000))
    first = int(process.runs.knot_start[1])
    assert abs(found[:first, first:]).max() < 0.06


def test_measured_gaps_stay_and_their_neighbours_hardly_err() -> None:
    measured = Gap(run="R", at_mm=6_000, gap_mm=140)
    process = tolerance_process(edge(12_000, nominal(0, 150, 20), measured))
    drawn = process.gaps(np.random.SeedSequence(2).spawn(4000))
    at = process.runs.knot_at.tolist()
    assert set(drawn[:, at.index(6_000)].tolist()) == {140}
    # a Gaussian error known to be nought at a distance d has the variance 1 - exp(-2 d / length) left
    for place, knot in enumerate(at):
        left = 100 * (1 - exp(-2 * abs(knot - 6_000) / 3000))
        assert drawn[:, place].var() == pytest.approx(left, rel=0.12, abs=0.2), knot


def test_between_two_measured_gaps_the_error_is_a_bridge() -> None:
    """Joint normal values, the middle given the ends: computed here by the matrix formula, there step by step."""
    knots, pins, length = [0, 900, 2_000, 3_100, 4_000], [0, 4_000], 2_500
    carried, fresh = markov_steps(knots, pins, length)
    covariance = np.zeros((5, 5))
    for i in range(5):
        for j in range(i + 1):
            through = np.prod(carried[j + 1 : i + 1]) if i > j else 1.0
            covariance[i, j] = covariance[j, i] = through * (covariance[j, j] if i > j else 0)
        covariance[i, i] = fresh[i] ** 2 + (carried[i] ** 2 * covariance[i - 1, i - 1] if i else 0)
        for j in range(i):
            covariance[i, j] = covariance[j, i] = carried[i] * covariance[i - 1, j]
    whole = np.exp(-np.abs(np.subtract.outer(knots, knots)) / length)
    inner, ends = [1, 2, 3], [0, 4]
    conditional = (
        whole[np.ix_(inner, inner)]
        - whole[np.ix_(inner, ends)] @ np.linalg.inv(whole[np.ix_(ends, ends)]) @ whole[np.ix_(ends, inner)]
    )
    np.testing.assert_allclose(covariance[np.ix_(inner, inner)], conditional, atol=1e-12)
    assert not covariance[0].any()
    assert not covariance[4].any()


def test_a_draw_depends_on_its_own_seed_only() -> None:
    process = tolerance_process(edge(20_000, nominal(0, 150, 10)))
    seeds = np.random.SeedSequence(7).spawn(9)
    together = process.gaps(seeds)
    assert np.array_equal(together[4], process.gaps([seeds[4]])[0])
    assert np.array_equal(together[3:8], process.gaps(seeds[3:8]))
    assert len({row.tobytes() for row in together}) == 9


def test_gaps_stay_at_least_a_millimetre() -> None:
    process = tolerance_process(edge(3_000, nominal(0, 3, 40)))
    assert process.gaps(np.random.SeedSequence(0).spawn(50)).min() == 1
