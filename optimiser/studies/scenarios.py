"""Scenarios side by side: any options of a project and of its planning, a judged plan for each.

What is compared are whole orders. 'Least' is always said with its measure: board area that is scrap, boards, or money;
they are different questions, and rarely have one answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal

from optimiser.boards.cut import PlanProgress
from optimiser.errors.problems import CannotBeDone, shown
from optimiser.model.money import NOTHING
from optimiser.model.offer import Offer
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.scenario import Scenario
from optimiser.planning.plan import plan
from optimiser.studies.changed_project import changed_project, offer_of, refusals
from optimiser.studies.precut import DRAWS, precut_risks
from optimiser.studies.scenario_result import (
    ScenarioComparison,
    ScenarioFigures,
    ScenarioResult,
    marked,
)
from optimiser.studies.staging import staging_option

MOST_SCENARIOS = 24


def scenarios(
    project: Project,
    compared: Iterable[Scenario],
    *,
    offers: Sequence[Offer] = (),
    on: date | None = None,
    draws: int = DRAWS,
    time_limit: float | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> ScenarioComparison:
    """Scenarios of a project side by side, one judged plan each.

    Parameters
    ----------
    project
        As it was surveyed.
    compared
        The scenarios, from one to MOST_SCENARIOS, each with a name of its own.
    offers
        What suppliers offer, for scenarios that name one of them.
    on
        The day of ordering, on which their prices must hold.
    draws
        Surveys that are drawn for scenarios that cut nominal levels ahead.
    time_limit
        Of one scenario's solver, in seconds, where it gives none itself; None: until it is done.
    progress
        Is told the scenarios done and the scenarios in all.

    Returns
    -------
    ScenarioComparison
        A result a scenario, in their order; `to_frame()` has a row a scenario. One of which nothing can be planned
        says why and takes no part in what is best.

    Raises
    ------
    CannotBeDone
        For scenarios that make no sense for the project, with every reason.
    BreaksRules
        Where the judge finds a broken rule in a plan: a fault of this program.
    """
    wanted = tuple(compared)
    refuse_unusable(project, wanted, offers, on)
    found = []
    for scenario in wanted:
        found.append(result_of(project, scenario, offers, on, draws, time_limit))
        if progress is not None:
            progress(len(found), len(wanted))
    return side_by_side(project, found)


def refuse_unusable(
    project: Project, wanted: Sequence[Scenario], offers: Sequence[Offer] = (), on: date | None = None
) -> None:
    """Raises CannotBeDone for scenarios that cannot be compared, with every reason."""
    if not 1 <= len(wanted) <= MOST_SCENARIOS:
        raise CannotBeDone([f"these are {len(wanted)} scenarios; give 1 to {MOST_SCENARIOS} at a time"])
    if reasons := refusals(project, wanted, offers, on):
        raise CannotBeDone(reasons)


def plan_scenario(
    project: Project,
    scenario: Scenario,
    offers: Sequence[Offer] = (),
    on: date | None = None,
    *,
    time_limit: float | None = None,
    progress: Callable[[PlanProgress], None] | None = None,
) -> Plan:
    """The plan of a scenario, as `plan` makes it of the changed project; its first warning says what differs.

    `time_limit` stands where the scenario gives none; one that takes a plan of the frontier has none, as the frontier
    has none. Raises CannotBeDone and BreaksRules as `plan`.
    """
    changed = changed_project(project, scenario, offers, on)
    made = plan(
        changed,
        staging=scenario.staging,
        joint_rounds=scenario.joint_rounds,
        time_limit=None if scenario.waiting_choice is not None else scenario.time_limit or time_limit,
        seed=scenario.seed,
        progress=progress,
        carry_cost=scenario.carry_cost,
        waiting_choice=scenario.waiting_choice,
    )
    return made.model_copy(update={"warnings": (what_differs(scenario), *made.warnings)})


def what_differs(scenario: Scenario) -> str:
    """The warning of a scenario's plan."""
    return (
        f"Planned as the scenario {shown(scenario.name)}: {scenario.words}. The survey and the tested detail are not"
        " changed by that: the detail, local code and a licensed practitioner decide whether it may be built so."
    )


def result_of(
    project: Project,
    scenario: Scenario,
    offers: Sequence[Offer] = (),
    on: date | None = None,
    draws: int = DRAWS,
    time_limit: float | None = None,
) -> ScenarioResult:
    """A scenario with the figures of its plan; where nothing can be planned, with the reason."""
    try:
        made = plan_scenario(project, scenario, offers, on, time_limit=time_limit)
    except CannotBeDone as error:
        return ScenarioResult(scenario=scenario, problem="; ".join(error.reasons))
    return ScenarioResult(scenario=scenario, figures=_figures(made, scenario, offers, draws))


def _figures(made: Plan, scenario: Scenario, offers: Sequence[Offer], draws: int) -> ScenarioFigures:
    option = staging_option(made)
    ordered = [line for line in made.order.lines if line.packs]
    order_days = [line.order_by for line in ordered if line.order_by is not None]
    arrivals = [delivery.deliver_on for delivery in made.deliveries if delivery.deliver_on is not None]
    freight = freight_of(made, offer_of(scenario.supplier, offers)) if scenario.supplier else NOTHING
    beside = made.carrying.carrying if made.carrying else NOTHING
    cost = made.delivery_costs.total if made.delivery_costs else made.order.total + beside
    return ScenarioFigures(
        cost=cost + freight,
        goods=made.order.total,
        boards=option.boards,
        lower_bound=option.lower_bound,
        proved=option.optimal,
        scrap_mm2=made.waste.scrap_mm2,
        scrap_fraction=round(made.waste.scrap_fraction, 6),
        waiting_pieces=option.waiting.pieces,
        waiting_piece_stages=option.waiting.piece_stages,
        remainders=option.waiting.remainders,
        deliveries=option.deliveries,
        loads=option.truckloads,
        packs=sum(line.packs for line in ordered),
        widths=len({strip.width_mm for layout in made.layouts for strip in layout.strips}),
        joints=sum(counts.joints for counts in made.counts.values()),
        brackets=sum(sum(counts.brackets.values()) for counts in made.counts.values()),
        lead_days=max((made.project.product(line.code).lead_days for line in ordered), default=0),
        order_by=min(order_days, default=None),
        last_delivery=max(arrivals, default=None),
        not_planned=len(made.not_planned),
        scrapped_by_precutting=_scrapped_ahead(made, scenario, draws) if scenario.precut else None,
        warnings=tuple(warning for warning in made.warnings if warning != what_differs(scenario)),
        seconds=round(sum(proof.solve_seconds for proof in made.proofs), 3),
    )


def freight_of(made: Plan, offer: Offer) -> Decimal:
    """What it costs to bring what a plan orders of a supplier: its freight for each day on which something of it
    comes, and nothing from an order of `freight_free_from` on."""
    sellers = {offer.supplier} | ({""} if made.project.project.supplier == offer.supplier else set())
    own = [
        line
        for line in made.order.lines
        if line.packs and made.project.product(line.code).supplier in sellers
    ]
    amount = sum((line.amount for line in own), NOTHING)
    if offer.freight_free_from is not None and amount >= offer.freight_free_from:
        return NOTHING
    return (offer.freight or NOTHING) * len({line.deliver_on or line.level for line in own})


def _scrapped_ahead(made: Plan, scenario: Scenario, draws: int) -> float | None:
    scrapped = [risk.boards_scrapped for risk in precut_risks(made, draws=draws, seed=scenario.seed)]
    return None if None in scrapped else round(sum(boards or 0.0 for boards in scrapped), 3)


def side_by_side(project: Project, results: Sequence[ScenarioResult]) -> ScenarioComparison:
    """Results of scenarios of one project together, with the best and the frontiers marked."""
    return ScenarioComparison(
        results=tuple(marked(results)),
        currency=project.project.currency,
        notes=tuple(_notes(project, [result.scenario for result in results])),
    )


def _notes(project: Project, compared: Sequence[Scenario]) -> Iterator[str]:
    yield (
        "Least scrap is the least board area that is neither fitted nor kept; fewest boards and least cost are other"
        " questions, since a narrower gap takes less board, and cost counts packs, brackets, joints and deliveries too."
    )
    if any(one.gap_mm is not None for one in compared):
        yield (
            "A gap that a scenario sets counts as measured, so that its figures are those of a building with that gap:"
            " nothing may be cut to it."
        )
    if any(one.precut for one in compared):
        yield "What pre-cutting is expected to scrap is not part of the cost: it must be ordered on top."
    if (
        any(one.supplier for one in compared)
        and project.delivery_limits
        and project.delivery_limits.delivery_cost
    ):
        yield (
            "The project's delivery_cost of a load counts beside a supplier's freight: set it aside (without"
            " delivery_cost) where the freight stands for it."
        )
    if any(one.rules for one in compared):
        yield (
            "Scenarios with rules of the detail of their own ask what they would cost: the tested detail, local code"
            " and a licensed practitioner decide whether they may be used."
        )
    if any(one.time_limit for one in compared):
        yield "A scenario that a time limit cut short may do better without it."
