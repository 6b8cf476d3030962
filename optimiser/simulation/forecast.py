"""What the forecast levels need: their nominal gaps drawn within their tolerances, and quantities that cover the draws.

Measured levels are certain: what the plan uses there is kept exactly, with its allowance for breakage and loss. The
forecast levels are drawn by themselves, as their boards are cut by themselves, and every draw is laid out, cut and
counted. Their quantities hold the tolerances, so no allowance is added to them again; they are chosen for all
products together (`optimiser.simulation.joint_quantities`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import flat_fractions
from optimiser.joints.arrays import Integers
from optimiser.model.money import cents_of
from optimiser.model.plan import Staging
from optimiser.model.project import Project
from optimiser.simulation.counts import Counting, DrawCounts, count_draws, needs_of
from optimiser.simulation.draws import is_drawn
from optimiser.simulation.heuristic_bias import HeuristicBias
from optimiser.simulation.joint_quantities import JointQuantities, ProductNeeds, joint_quantities
from optimiser.simulation.planned_needs import PlannedNeeds
from optimiser.takeoff.quantities import unit_of

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class ForecastDraws:
    """What every draw needs at the forecast levels, by code: an entry a draw, tape in millimetres.

    `where` says at which levels: by code and level a weight in any unit, summed over the draws.
    """

    needs: Mapping[str, Integers]
    where: Mapping[str, Mapping[str, int]]
    counts: DrawCounts
    bias: HeuristicBias
    runs_drawn: int


@dataclass(frozen=True)
class ForecastQuantities:
    """The draws and the quantities that cover them. `asked` are all products that the plan or a draw needs."""

    drawn: ForecastDraws | None  # None: no gap is nominal with a tolerance, so every draw is the plan
    asked: tuple[ProductNeeds, ...]
    joint: JointQuantities


def is_simulated(project: Project) -> bool:
    """Whether anything is drawn: a gap is nominal and has a tolerance."""
    return any(is_drawn(gaps) for gaps in project.building.gaps.values())


def forecast_quantities(
    project: Project,
    planned: PlannedNeeds,
    *,
    draws: int,
    seed: int,
    service_level: float | Fraction,
    staging: Staging = "whole",
    workers: int | None = None,
    progress: Progress | None = None,
) -> ForecastQuantities:
    """Draws the forecast levels and chooses what to order for them.

    The result depends on the seed, never on `workers` (threads; the machine's processors when not given).
    """
    drawn = None
    if is_simulated(project):
        drawn = drawn_needs(project, planned, staging, draws, seed, workers, progress)
    elif progress is not None:
        progress(draws, draws)
    fractions = flat_fractions(project)
    asked = []
    for product in project.building.in_trade_order:
        code = product.code
        nominal, measured = planned.nominal.get(code, 0), planned.measured.get(code, 0)
        # what nothing is drawn of is certain, and is allowed for as the measured levels are
        allowed_for = measured if drawn else measured + nominal
        needs = drawn.needs.get(code) if drawn else None
        if needs is None:
            needs = np.full(draws, nominal, dtype=np.int64)
        if not (measured or nominal or needs.any()):
            continue
        certain = measured + ceil(allowed_for * fractions.get(code, Fraction(0)))
        unit = unit_of(product)
        pack = unit * product.per_pack
        asked.append(ProductNeeds(code, certain, needs, nominal, pack, cents_of(product.price), unit))
    return ForecastQuantities(drawn, tuple(asked), joint_quantities(asked, draws, service_level, seed))


def drawn_needs(
    project: Project,
    planned: PlannedNeeds,
    staging: Staging,
    draws: int,
    seed: int,
    workers: int | None = None,
    progress: Progress | None = None,
) -> ForecastDraws:
    """Every draw of the forecast levels' runs, cut from their own boards and from what stock is left for them."""
    forecast = forecast_levels(project)
    nominal = project.with_runs(run for run in project.runs if run.level in forecast)
    counting = Counting.of(nominal.model_copy(update={"stock": planned.stock}), staging)
    counts, bias = count_draws(counting, draws, seed, workers, progress)
    bias = bias.model_copy(update={"above_plan": counting.above_plan(planned.nominal)})
    needs = dict(needs_of(project, counts, bias))
    return ForecastDraws(needs, _where(project, counts), counts, bias, counting.process.runs_drawn)


def _where(project: Project, counts: DrawCounts) -> dict[str, dict[str, int]]:
    """At which levels the draws use each product: boards by the area of their pieces, tape by the pieces."""
    here = counts.by_level.sum(axis=0)
    boards, sizes = project.boards, project.brackets
    columns = {product.code: here[:, place] for place, product in enumerate([*boards, *sizes])}
    anchor, tape = project.building.anchor, project.building.tape
    if anchor is not None:
        columns[anchor.code] = here[:, len(boards) : -1].sum(axis=1)
    if tape is not None:
        columns[tape.code] = here[:, -1]
    return {
        code: {level.level: int(weight) for level, weight in zip(project.levels, column, strict=True)}
        for code, column in columns.items()
    }
