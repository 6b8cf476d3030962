"""Planning and judging: each function here runs in a limited process."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from api.jobs.steps import BreaksTheRules, Made, Progress, StepInput, translate_errors
from api.projects.reading import ReadProject, Upload, kept_project, project_of, summarised

if TYPE_CHECKING:
    from optimiser.boards.cut import PlanProgress
    from optimiser.model.plan import Plan, Staging
    from optimiser.model.project import Project


@dataclass(frozen=True)
class PlanOptions:
    """How to plan: the contract's staging, the solver's seconds (None: as long as it takes), its seed, what keeping a
    remainder costs, and which plan of the frontier is taken; that one takes no time limit, as the frontier takes none.
    `joint_rounds`: how often joints are laid again (None: where it may pay). `scenario`: a `PricedScenario` as plain
    values, which says all of this itself, and what differs from the project; None: the project as it was surveyed.
    """

    staging: Staging = "whole"
    time_limit: float | None = None
    seed: int = 0
    carry_cost: str | None = None
    waiting_choice: int | None = None
    joint_rounds: int | None = None
    scenario: dict[str, Any] | None = None


def read_and_plan(
    upload: Upload,
    options: PlanOptions,
    most_pieces: int,
    excerpts_of: Callable[[str], dict[str, str]],
    *,
    progress: Progress,
) -> tuple[ReadProject, Made | None]:
    """Reads an upload, reports it, and plans it, with its excerpts, when it has at most so many pieces.

    Raises Unreadable, Unusable, CannotBePlanned or BreaksTheRules.
    """
    project = project_of(upload)
    found = summarised(project)
    progress({"read": found})
    if found.pieces > most_pieces:
        return found, None
    made = _planned(project, options, progress)
    return found, replace(made, excerpts=excerpts_of(made.document))


def plan_step(work: StepInput, progress: Progress) -> Made:
    """The plan of a kept project. Raises CannotBePlanned or BreaksTheRules."""
    return _planned(kept_project(work.project), PlanOptions(**work.parameters), progress)


def check_step(work: StepInput, progress: Progress) -> Made:
    """Judges the plan once more as it is kept, in a process that did not make it. Raises BreaksTheRules."""
    plan = work.made["plan"]
    broken = broken_rules_of(plan.document, work.project, work.parameters.get("scenario"))
    if broken:
        raise BreaksTheRules(broken)
    return plan


def as_planned(project: str, scenario: dict[str, Any] | None) -> Project:
    """A kept project as a plan was asked for: changed by its scenario, where it has one. Raises CannotBeDone."""
    surveyed = kept_project(project)
    if scenario is None:
        return surveyed
    from optimiser.model.scenario import PricedScenario
    from optimiser.studies.changed_project import changed_project

    asked = PricedScenario.model_validate(scenario)
    return changed_project(surveyed, asked.scenario, asked.offers, asked.on)


def broken_rules_of(plan: str, project: str, scenario: dict[str, Any] | None = None) -> tuple[str, ...]:
    """What the independent judge finds broken in a plan of a kept project, or of a scenario of it."""
    from optimiser.checking import broken_rules_of_plan
    from optimiser.model.plan import Plan

    return tuple(
        str(rule)
        for rule in broken_rules_of_plan(Plan.model_validate_json(plan), as_planned(project, scenario))
    )


@dataclass(frozen=True)
class NextRevision:
    """What issuing a plan would issue after the last revision: the order as JSON text of the form of plan.json; the
    products of which less is on the plan's record as ordered than was issued, so that it does not know of it; what of
    the last revision stands, in single units by level and product, where a supplier confirmed less or it was taken
    back (None: all of it); and why quantities change, with what is damaged, by level and product."""

    order: str
    unknown: tuple[str, ...] = ()
    standing: tuple[tuple[str, str, int], ...] | None = None
    causes: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...]], ...] = ()


def next_revision(
    plan: str, on_top: bool, placed: str, issued_plan: str, issued_survey: str | None
) -> NextRevision:
    """The next revision from a plan after the order that was `placed` last, from a plan (`issued_survey`: and a refit
    of it to that survey). A plan for the rest of a job goes `on_top` of what was placed."""
    from collections import Counter

    from optimiser.model.order import Order
    from optimiser.model.plan import Plan
    from optimiser.replanning.causes import Reasons
    from optimiser.replanning.on_top import as_recorded
    from optimiser.replanning.supplement import order_with

    made, last, before = (
        Plan.model_validate_json(plan),
        Order.model_validate_json(placed),
        Plan.model_validate_json(issued_plan),
    )
    if issued_survey is not None:
        before = before.model_copy(update={"project": kept_project(issued_survey)})
    order = made.order
    unknown: dict[str, str] = {}
    standing: tuple[tuple[str, str, int], ...] | None = None
    if on_top:
        stands, unknown = as_recorded(last, made)
        standing = tuple((line.level, line.code, line.packs * line.per_pack) for line in stands.lines)
        order = order_with(stands, made.order, (), made.project, before.project)
    reasons = Reasons.of(before, made)
    packs = Counter({(line.level, line.code): line.packs for line in order.lines})
    packs.subtract({(line.level, line.code): line.packs for line in last.lines})
    causes = {line: reasons.of_quantity(*line) for line, more in packs.items() if more}
    damaged = reasons.damaged(line for line, found in causes.items() if "damage" in found)
    return NextRevision(
        order.model_dump_json(by_alias=True),
        tuple(unknown),
        standing,
        tuple((*line, found, damaged.get(line, ())) for line, found in causes.items()),
    )


def next_revision_json(
    plan: str, placed: str, issued_plan: str, issued_survey: str | None, on_top: bool, last_hash: str
) -> bytes:
    """`next_revision` as JSON; `last_hash` is that of the revision that was placed, of which all the rest follows."""
    return json.dumps(asdict(next_revision(plan, on_top, placed, issued_plan, issued_survey))).encode()


def _planned(project: Project, options: PlanOptions, progress: Progress) -> Made:
    from optimiser.planning.plan import plan
    from optimiser.writing.data.plan_json import plan_json

    def report(found: PlanProgress) -> None:
        progress({**asdict(found), "fraction": found.bound / found.best if found.best else None})

    if options.scenario is not None:
        return _planned_scenario(project, options, report)
    with translate_errors():
        found = plan(
            project,
            staging=options.staging,
            time_limit=options.time_limit if options.waiting_choice is None else None,
            seed=options.seed,
            progress=report,
            carry_cost=None if options.carry_cost is None else Decimal(options.carry_cost),
            waiting_choice=options.waiting_choice,
            joint_rounds=options.joint_rounds,
        )
    return Made(plan_json(found), figures_of(found))


def _planned_scenario(project: Project, options: PlanOptions, report: Callable[[PlanProgress], None]) -> Made:
    from optimiser.model.scenario import PricedScenario
    from optimiser.studies.scenarios import plan_scenario
    from optimiser.writing.data.plan_json import plan_json

    asked = PricedScenario.model_validate(options.scenario)
    with translate_errors():
        found = plan_scenario(
            project, asked.scenario, asked.offers, asked.on, time_limit=options.time_limit, progress=report
        )
    return Made(plan_json(found), figures_of(found))


def _first_order_day(plan: Plan) -> str | None:
    days = [line.order_by for line in plan.order.lines if line.status == "firm" and line.order_by is not None]
    return min(days).isoformat() if days else None


def figures_of(plan: Plan) -> dict[str, Any]:
    """The figures of a plan that a list of plans shows."""
    from optimiser.model.money import money_text, total_of

    return {
        "boards": sum(count.count for count in plan.boards.values()),
        "lower_bound": sum(count.lower_bound for count in plan.boards.values()),
        "pieces": len(plan.pieces),
        "layouts": len(plan.layouts),
        "not_planned": len(plan.not_planned),
        "scrap_fraction": plan.waste.scrap_fraction,
        "total": plan.model_dump(mode="json", include={"order": {"total"}})["order"]["total"],
        "forecast": money_text(
            total_of(line.amount for line in plan.order.lines if line.status == "forecast")
        ),
        "currency": plan.order.currency,
        "order_by": _first_order_day(plan),
    }
