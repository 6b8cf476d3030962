"""How much to order: the tolerances of nominal gaps drawn hundreds of times, each draw laid out, cut and counted.

Every draw is a possible survey (`optimiser.simulation.draws` says how gaps err). It is laid out and cut as a plan would
be, so an order quantity from the draws holds the cutting waste already: nothing is added on top of it. The quantities
cover a chosen share of the draws in all products together at least cost (`optimiser.simulation.joint_quantities`);
beside each stands the quantity that covers the share in its product alone. Where the costs of a shortage and a surplus
are given, which are of one missing and one left over, each product's quantity balances them by itself.

What the measured levels take is certain: it is the plan's own. Boards of the nominal levels come from the constructive
heuristic, whose excess over the proved bound is measured on some of the draws (`heuristic_bias`) and taken off in
whole boards, rounded down, or its excess over the plan of the nominal gaps where that is more. Numbers rest on the
stated process and its parameters: the tested detail, a survey and a licensed practitioner decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.arrays import Integers
from optimiser.model.money import from_cents
from optimiser.model.plan import Staging
from optimiser.model.project import Project
from optimiser.simulation.counts import Counting, DrawCounts
from optimiser.simulation.drawn import DrawnNeeds
from optimiser.simulation.forecast import ForecastQuantities, forecast_quantities
from optimiser.simulation.heuristic_bias import HeuristicBias
from optimiser.simulation.joint_quantities import ProductNeeds
from optimiser.simulation.order_quantity import OrderQuantity, order_quantity
from optimiser.simulation.planned_needs import PlannedNeeds, planned_needs
from optimiser.simulation.quantiles import critical_fractile, interval_ranks, quantile
from optimiser.simulation.simulated_allowance import SimulatedAllowance

DRAWS = 500
MOST_DRAWS = 20_000


def simulate(
    project: Project,
    *,
    draws: int = DRAWS,
    seed: int = 0,
    service_level: float | None = None,
    shortage_cost: float | None = None,
    surplus_cost: float | None = None,
    staging: Staging = "whole",
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SimulatedAllowance:
    """How much to order: the nominal gaps drawn within their tolerances, each draw laid out, cut and counted.

    Where no gap is nominal with a tolerance there is nothing to draw: every draw is the plan, which a note says.

    Parameters
    ----------
    project
        The building.
    draws
        Possible surveys to draw, 1 to 20,000.
    seed
        The result depends on it, never on `workers`.
    service_level
        Share of the draws that the order must cover in all products at once, above 0 and at most 1; the project's
        when not given.
    shortage_cost, surplus_cost
        Of one missing and of one left over, in any unit; given both, the service level is where their expected sum is
        least, product by product.
    staging
        Where an offcut of a measured level may serve, as in `plan`.
    workers
        Threads; the machine's processors when not given.
    progress
        Is told draws done and in all.

    Returns
    -------
    SimulatedAllowance
        The quantity of each product with its interval; `draws_frame()` has every draw.

    Raises
    ------
    CannotBeDone
        When nothing can be planned or an option makes no sense.
    """
    given = float(project.project.service_level) if service_level is None else service_level
    level = _level(draws, given, shortage_cost, surplus_cost)
    planned = planned_needs(project, staging, seed)
    found = forecast_quantities(
        project,
        planned,
        draws=draws,
        seed=seed,
        service_level=level,
        staging=staging,
        workers=workers,
        progress=progress,
    )
    drawn = found.drawn
    ranks = interval_ranks(draws, level) if drawn else (1, draws)
    costs = None if shortage_cost is None or surplus_cost is None else (shortage_cost, surplus_cost)
    ordered = tuple(_quantity(project, planned, found, asked, level, ranks, costs) for asked in found.asked)
    measured = _measured_counts(project, staging, everything=drawn is None)
    counts = DrawCounts.certain(draws) if drawn is None else drawn.counts
    if measured is not None:
        counts = counts.with_certain(measured)
    bias = HeuristicBias(sample=0, boards={}, bound={}) if drawn is None else drawn.bias
    tape = sorted(counts.tape_mm.tolist())
    open_share = float(counts.open_mm.mean()) / sum(run.length_mm for run in project.runs)
    without = float(counts.without_bracket.mean())
    return SimulatedAllowance(
        quantities=ordered,
        draws=draws,
        seed=seed,
        service_level=level,
        shortage_cost=shortage_cost,
        surplus_cost=surplus_cost,
        bias=bias,
        pieces_mean=float(counts.pieces.mean()),
        tape_mm=(quantile(tape, 0.5), quantile(tape, level)),
        runs_drawn=drawn.runs_drawn if drawn else 0,
        runs=len(project.runs),
        correlation_length_mm=project.building.details[0].correlation_length_mm,
        not_planned_share=open_share,
        without_bracket=without,
        covered=found.joint.covered_alone if costs else found.joint.cover.covered,
        covered_alone=found.joint.covered_alone,
        cost=from_cents(found.joint.cover.cost_cents),
        least_cost=from_cents(found.joint.cover.least_cost_cents),
        notes=tuple(_notes(project, draws, bias, drawn is None, level, ranks, open_share, without)),
        drawn=DrawnNeeds.of(project, {asked.code: _needs(planned, asked) for asked in found.asked}, counts),
    )


def _needs(planned: PlannedNeeds, asked: ProductNeeds) -> Integers:
    """What every draw needs of a product, in boards, brackets, anchors or whole rolls, measured levels included."""
    return -(-(planned.measured.get(asked.code, 0) + asked.needs) // asked.unit)


def _quantity(
    project: Project,
    planned: PlannedNeeds,
    found: ForecastQuantities,
    asked: ProductNeeds,
    level: float,
    ranks: tuple[int, int],
    costs: tuple[float, float] | None,
) -> OrderQuantity:
    """A product's figures in boards, brackets, anchors or whole rolls, measured levels included."""
    code = asked.code
    measured = planned.measured.get(code, 0)
    joint = -(-(measured + found.joint.on_top[code]) // asked.unit)
    return order_quantity(
        project.product(code),
        _needs(planned, asked).tolist(),
        -(-planned.in_all[code] // asked.unit),
        level,
        ranks,
        costs,
        joint=None if costs else joint,
        breakage=int(asked.units_for(np.array([found.joint.on_top[code]]))[0]) - joint,
    )


def _measured_counts(project: Project, staging: Staging, everything: bool) -> DrawCounts | None:
    """What the levels that are never drawn take, counted once; None where there are none."""
    forecast = frozenset[str]() if everything else forecast_levels(project)
    runs = [run for run in project.runs if run.level not in forecast]
    if not runs:
        return None
    counting = Counting.of(project.with_runs(runs), staging)
    return counting.count(counting.process.runs.knot_gap, taper_step_mm=1)


def _level(
    draws: int, service_level: float, shortage_cost: float | None, surplus_cost: float | None
) -> float:
    wrong: list[str] = []
    if not 1 <= draws <= MOST_DRAWS:
        wrong.append(f"{draws} draws: give 1 to {MOST_DRAWS}, such as {DRAWS}")
    if not 0 < service_level <= 1:
        wrong.append(
            f"a service level of {service_level:g}: give a share above 0 and at most 1, such as 0.95"
        )
    if (shortage_cost is None) != (surplus_cost is None):
        wrong.append("give both the cost of a shortage and that of a surplus, or neither")
    elif shortage_cost is not None and surplus_cost is not None:
        try:
            service_level = critical_fractile(shortage_cost, surplus_cost)
        except ValueError as error:
            wrong.append(str(error))
    if wrong:
        raise CannotBeDone(wrong)
    return service_level


def _notes(
    project: Project,
    draws: int,
    bias: HeuristicBias,
    certain: bool,
    level: float,
    ranks: tuple[int, int],
    open_share: float,
    without: float,
) -> Iterator[str]:
    details = project.building.details_in_use
    length = " or ".join(
        str(one) for one in dict.fromkeys(detail.correlation_length_mm for detail in details.values())
    )
    if certain:
        yield (
            "Nothing is drawn: no gap is nominal with a tolerance, so every draw is the plan of the gaps as they stand."
            " Where gaps are not surveyed yet, give them the basis 'nominal' and their tolerance_mm, such as 10."
        )
    else:
        yield (
            "Each nominal gap errs by a stationary Gaussian process along its run (Ornstein-Uhlenbeck: correlation"
            f" exp(-distance / {length} mm)), its tolerance being two standard deviations; runs err independently."
        )
        if any("correlation_length_mm" not in detail.model_fields_set for detail in details.values()):
            yield (
                f"The correlation length of {length} mm is a placeholder: enter correlation_length_mm for this"
                " building."
            )
    as_they_stand = sum(gap.basis == "nominal" and not gap.tolerance_mm for gap in project.gaps)
    if as_they_stand:
        yield f"{as_they_stand} nominal gaps have no tolerance: they are taken as they stand."
    yield (
        "The order holds all cutting waste; no percentage is added to it. Breakage and loss are not drawn: the packs"
        " hold the project's allowance for them on measured levels alone, since that of the others is in the order."
    )
    if open_share > 0:
        why = "it cannot be planned" if certain else "a drawn gap leaves the tested range or no piece fits"
        yield f"{open_share:.1%} of the edge is left open on average, because {why}: nothing is ordered for it."
    if without > 0:
        yield f"{without:.1f} pieces on average find no bracket size on offer that fits: none is ordered for them."
    beyond = [
        f"{count} of {code}" for code, count in bias.corrected.items() if count > int(bias.boards[code])
    ]
    if beyond:
        listed = ", ".join(beyond)
        yield (
            f"At the gaps as they stand the plan does with fewer boards than the quick cutting, {listed}, by carrying"
            " between deliveries or its use of the stock: so many are taken off every draw."
        )
    if level == 1:
        yield "A service level of 1 covers these draws; no number of draws bounds the greatest need there can be."
    elif ranks[0] < 1 or ranks[1] > draws:
        few = "1 draw is" if draws == 1 else f"{draws} draws are"
        yield f"{few} too few to bound the quantile on both sides: take more."
