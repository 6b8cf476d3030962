"""Nominal gaps with a tolerance as random draws, correlated along the run.

The process. A slab edge and a facade wander slowly: the error at one place tells of the error a metre on, and little
of the error two panels on. Along a run the error is stationary and Gaussian with correlation exp(-distance /
correlation length), the Ornstein-Uhlenbeck process (G. E. Uhlenbeck and L. S. Ornstein, 'On the theory of the
Brownian motion', Physical Review 36, 1930); by J. L. Doob's theorem (Annals of Mathematics 43, 1942) it is the only
stationary Gaussian process that is also Markov, so it can be drawn from knot to knot:

    error[i + 1] = r error[i] + sqrt(1 - r^2) fresh normal,   r = exp(-distance / detail.correlation_length_mm)

Its spread: the tolerance stands for two standard deviations, so some 95 % of places keep it (common practice, no
source). It is not cut off there: a crew is not left short by a gap that exceeds its tolerance. Runs err
independently of each other. Measured gaps stay as measured, and near them the error is drawn conditional on being
nought there. Between knots, about 1 m apart, the gap is linear as everywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from optimiser.joints.arrays import Integers, RunArrays, starts
from optimiser.joints.layout import run_arrays
from optimiser.model.project import Gap, Project

KNOT_DISTANCE_MM = 1000
LEAST_KNOT_DISTANCE_MM = 500  # between a knot of ours and one of the survey
DEVIATIONS_PER_TOLERANCE = 2

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ToleranceProcess:
    """Everything that stays the same from draw to draw. Arrays have an entry a knot: the expected gap and its
    standard deviation in mm, and how much of the error before it a knot carries and how much is fresh."""

    runs: RunArrays
    expected: Floats
    deviation: Floats
    carried: Floats
    fresh: Floats
    runs_drawn: int

    def errors(self, draws: Sequence[np.random.SeedSequence]) -> Floats:
        """Standard errors (mean 0, variance 1 away from measured gaps): a row a knot, a column a draw.

        A draw depends on its own seed only, never on which others are drawn beside it.
        """
        knots = len(self.expected)
        normal = np.empty((knots, len(draws)))
        for column, seed in enumerate(draws):
            normal[:, column] = np.random.default_rng(seed).standard_normal(knots)
        error = np.zeros(len(draws))
        for knot in range(knots):
            error = self.carried[knot] * error + self.fresh[knot] * normal[knot]
            normal[knot] = error
        return normal

    def gaps(self, draws: Sequence[np.random.SeedSequence]) -> Integers:
        """Gaps in whole millimetres, at least 1: a row a draw, a column a knot of `runs`."""
        drawn = self.expected[:, None] + self.deviation[:, None] * self.errors(draws)
        return np.ascontiguousarray(np.maximum(1, np.rint(drawn)).astype(np.int64).T)


def tolerance_process(project: Project) -> ToleranceProcess:
    """The process of a project's nominal gaps; a run without any tolerance keeps its gaps as they stand."""
    counts: list[int] = []
    at: list[int] = []
    expected: list[float] = []
    deviation: list[float] = []
    carried: list[float] = []
    fresh: list[float] = []
    drawn = 0
    gaps_of = project.building.gaps
    for run, detail in zip(project.runs, project.building.details, strict=True):
        gaps = gaps_of[run.run]
        knots = [gap.at_mm for gap in gaps]
        if is_drawn(gaps):
            drawn += 1
            knots = _knots(run.length_mm, knots)
        expected += np.interp(knots, [gap.at_mm for gap in gaps], [gap.gap_mm for gap in gaps]).tolist()
        deviation += _deviations(gaps, knots).tolist()
        pinned = [gap.at_mm for gap in gaps if gap.basis == "measured"]
        steps = markov_steps(knots, pinned, detail.correlation_length_mm)
        carried += steps[0]
        fresh += steps[1]
        counts.append(len(knots))
        at += knots
    runs = replace(
        run_arrays(project),
        knot_start=starts(counts),
        knot_at=np.array(at, dtype=np.int64),
        knot_gap=np.rint(expected).astype(np.int64),
    )
    return ToleranceProcess(
        runs, np.array(expected), np.array(deviation), np.array(carried), np.array(fresh), drawn
    )


def is_drawn(gaps: Sequence[Gap]) -> bool:
    """Whether a run has a nominal gap with a tolerance above nought."""
    return any(gap.basis == "nominal" and gap.tolerance_mm for gap in gaps)


def _knots(length_mm: int, surveyed: Sequence[int]) -> list[int]:
    """The survey's positions, and between them more, about 1 m apart and never close to the survey's."""
    parts = max(1, length_mm // KNOT_DISTANCE_MM)
    even = [length_mm * k // parts for k in range(parts + 1)]
    apart = [x for x in even if all(abs(x - known) >= LEAST_KNOT_DISTANCE_MM for known in surveyed)]
    return sorted({*surveyed, *apart})


def _deviations(gaps: Sequence[Gap], knots: Sequence[int]) -> Floats:
    """Standard deviations in mm: of the nominal gaps, linear between them and constant beyond."""
    nominal = [gap for gap in gaps if gap.basis == "nominal"]
    if not nominal:
        return np.zeros(len(knots))
    spread = [(gap.tolerance_mm or 0) / DEVIATIONS_PER_TOLERANCE for gap in nominal]
    return np.interp(knots, [gap.at_mm for gap in nominal], spread)


def markov_steps(
    knots_mm: Sequence[int], pinned_mm: Sequence[int], correlation_length_mm: int
) -> tuple[list[float], list[float]]:
    """For each knot how much of the error at the knot before it carries over, and how much is fresh.

    At `pinned_mm` (measured positions, ascending) the error is nought, and knots before one are drawn conditional on
    that: of three jointly normal values, the middle one given both others.
    """
    carried: list[float] = []
    fresh: list[float] = []
    pins = set(pinned_mm)
    for place, knot in enumerate(knots_mm):
        if knot in pins:
            carried.append(0.0)
            fresh.append(0.0)
            continue
        following = next((pin for pin in pinned_mm if pin > knot), None)
        to_pin = 0.0 if following is None else exp(-(following - knot) / correlation_length_mm)
        if place == 0:
            carried.append(0.0)
            fresh.append(sqrt(1 - to_pin**2))
            continue
        back = exp(-(knot - knots_mm[place - 1]) / correlation_length_mm)
        across = back * to_pin
        rest = 1 - across**2
        carried.append((back - to_pin * across) / rest)
        variance = 1 - (back**2 + to_pin**2 - 2 * back * to_pin * across) / rest
        fresh.append(sqrt(max(0.0, variance)))
    return carried, fresh
