"""What comes on top of the cutting plan: breakage and loss at measured levels, the simulation's part at the others.

Measured levels take the `allowance` table's fraction; where it says 'simulated' they take none, since nothing of them
is uncertain. Forecast levels take what covers the draws of their tolerances (`optimiser.simulation.forecast`), for
every kind of product, so that neither cutting waste nor tolerance is counted twice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import flat_fractions
from optimiser.cutting.problem import CuttingPattern
from optimiser.errors.listed import listed
from optimiser.model.money import believable, from_cents
from optimiser.model.needs import LevelNeeds
from optimiser.model.plan import ForecastCover, Staging
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.simulation.forecast import ForecastQuantities, forecast_quantities, is_simulated
from optimiser.simulation.planned_needs import PlannedNeeds, stock_left

DRAWS = 300  # possible surveys drawn for a plan


@dataclass(frozen=True)
class Allowances:
    """`fractions` by product code for firm levels: 0.02 for a board means 2 on top of every 100. `on_top` is what
    the forecast levels get, by level and code (tape in mm; None: nothing is simulated). `cover` says how far it
    goes; `warnings` are plain sentences."""

    fractions: Mapping[str, Fraction]
    on_top: LevelNeeds | None = None
    cover: ForecastCover | None = None
    warnings: tuple[str, ...] = ()


def allowances_of(
    project: Project,
    needed: LevelNeeds,
    pieces: Iterable[PlannedPiece],
    layouts: Iterable[CuttingPattern],
    seed: int = 0,
    staging: Staging = "whole",
) -> Allowances:
    """The allowances of a plan. `needed` is what it uses by level and code, tape in mm.

    Raises CannotBeDone when the simulation cannot be made.
    """
    fractions = flat_fractions(project)
    forecast = forecast_levels(project)
    if not is_simulated(project):
        return Allowances(fractions, warnings=tuple(_without_tolerance(project, forecast)))
    waiting = [piece.id for piece in pieces if piece.level in forecast]
    planned = PlannedNeeds(
        needed.total(level.level for level in project.levels if level.level not in forecast),
        needed.total(forecast),
        stock_left(project, layouts, waiting),
    )
    found = forecast_quantities(
        project,
        planned,
        draws=DRAWS,
        seed=seed,
        service_level=Fraction(project.project.service_level),
        staging=staging,
    )
    joint = found.joint
    cover = ForecastCover(
        service_level=project.project.service_level,
        draws=DRAWS,
        seed=seed,
        covered=joint.cover.covered,
        covered_alone=joint.covered_alone,
        cost=believable(from_cents(joint.cover.cost_cents)),
        least_cost=from_cents(joint.cover.least_cost_cents),
        proved=joint.cover.proved,
    )
    on_top = _by_level(project, planned, found)
    return Allowances(fractions, on_top, cover, tuple(_fewer(project, planned, found)))


def _by_level(project: Project, planned: PlannedNeeds, found: ForecastQuantities) -> LevelNeeds:
    """Each product's extra spread over the forecast levels: in delivery order, in proportion to what the draws use of
    it there, the running total rounded up. So the quantity so far is at least what the nominal gaps need so far."""
    forecast = forecast_levels(project)
    levels = project.building.in_delivery_order(forecast)
    spread: dict[str, dict[str, int]] = {level: {} for level in levels}
    for code, quantity in found.joint.on_top.items():
        extra = quantity - planned.nominal.get(code, 0)
        weights = found.drawn.where.get(code, {}) if found.drawn else {}
        in_all = sum(weights.get(level, 0) for level in levels)
        so_far = given = 0
        for level in levels if extra and in_all else ():
            so_far += weights.get(level, 0)
            here = -(-extra * so_far // in_all) - given
            given += here
            if here:
                spread[level][code] = here
    return LevelNeeds(spread)


def _fewer(project: Project, planned: PlannedNeeds, found: ForecastQuantities) -> Iterator[str]:
    """Brackets of which the nominal gaps, all alike, take more than the draws do."""
    brackets = {bracket.code for bracket in project.brackets}
    fewer = [
        (code, planned.nominal[code], alone)
        for code, alone in found.joint.alone.items()
        if code in brackets and alone < planned.nominal.get(code, 0)
    ]
    if fewer:
        listed = ", ".join(f"{number:,} {code} where {alone:,} would do" for code, number, alone in fewer)
        yield (
            f"The nominal gaps of the forecast levels take more of some brackets than the draws need: {listed}."
            " Measure before ordering brackets."
        )


def _without_tolerance(project: Project, forecast: frozenset[str]) -> Iterator[str]:
    if forecast:
        levels = project.building.in_delivery_order(forecast)
        yield (
            f"No tolerance on the nominal gaps of {listed(levels, 8)}: their quantities are those of the gaps as they"
            " stand, with the allowance for breakage and loss alone. Give the gaps their tolerance_mm, such as 10, so"
            " that the order covers what the survey may find."
        )
