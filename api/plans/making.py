"""Planning and judging: each function here runs in a limited process."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from api.jobs.steps import BreaksTheRules, Made, Progress, StepInput, translate_errors
from api.projects.reading import ReadProject, Upload, kept_project, project_of, summarised

if TYPE_CHECKING:
    from optimiser.model.plan import Plan, Staging
    from optimiser.model.project import Project


@dataclass(frozen=True)
class PlanOptions:
    """How to plan: the contract's staging, the solver's seconds (None: as long as it takes), its seed, what keeping a
    remainder costs, and which plan of the frontier is taken; that one takes no time limit, as the frontier takes none.
    """

    staging: Staging = "whole"
    time_limit: float | None = None
    seed: int = 0
    carry_cost: str | None = None
    waiting_choice: int | None = None


def read_and_plan(
    upload: Upload, options: PlanOptions, most_pieces: int, *, progress: Progress
) -> tuple[ReadProject, Made | None]:
    """Reads an upload, reports it, and plans it when it has at most so many pieces.

    Raises Unreadable, Unusable, CannotBePlanned or BreaksTheRules.
    """
    project = project_of(upload)
    found = summarised(project)
    progress({"read": found})
    return found, None if found.pieces > most_pieces else _planned(project, options, progress)


def plan_step(work: StepInput, progress: Progress) -> Made:
    """The plan of a kept project. Raises CannotBePlanned or BreaksTheRules."""
    return _planned(kept_project(work.project), PlanOptions(**work.parameters), progress)


def check_step(work: StepInput, progress: Progress) -> Made:
    """Judges the plan once more as it is kept, in a process that did not make it. Raises BreaksTheRules."""
    plan = work.made["plan"]
    broken = broken_rules_of(plan.document, work.project)
    if broken:
        raise BreaksTheRules(broken)
    return plan


def broken_rules_of(plan: str, project: str) -> tuple[str, ...]:
    """What the independent judge finds broken in a plan of a kept project."""
    from optimiser.checking import broken_rules_of_plan
    from optimiser.model.plan import Plan

    return tuple(
        str(rule) for rule in broken_rules_of_plan(Plan.model_validate_json(plan), kept_project(project))
    )


def order_on_top(plan: str, placed: str) -> tuple[str, tuple[str, ...]]:
    """The order of a plan for the rest of a job on top of the one that was issued last, as JSON text of the form of
    plan.json; and each product of which less is on record as ordered than was issued: the plan does not know of it.
    """
    from collections import Counter

    from optimiser.model.plan import Order, Plan
    from optimiser.replanning.supplement import order_with

    made, last = Plan.model_validate_json(plan), Order.model_validate_json(placed)
    on_record, issued = Counter[str](), Counter[str]()
    for event in made.record.standing:
        if event.event == "ordered":
            on_record[event.code] += event.quantity or 0
    for line in last.lines:
        issued[line.code] += line.packs * line.per_pack
    unknown = tuple(code for code, number in issued.items() if number > on_record[code])
    return order_with(last, made.order, (), made.project).model_dump_json(by_alias=True), unknown


def _planned(project: Project, options: PlanOptions, progress: Progress) -> Made:
    from optimiser.boards.cut import PlanProgress
    from optimiser.planning.plan import plan
    from optimiser.writing.data.plan_json import plan_json

    def report(found: PlanProgress) -> None:
        progress({**asdict(found), "fraction": found.bound / found.best if found.best else None})

    with translate_errors():
        found = plan(
            project,
            staging=options.staging,
            time_limit=options.time_limit if options.waiting_choice is None else None,
            seed=options.seed,
            progress=report,
            carry_cost=None if options.carry_cost is None else Decimal(options.carry_cost),
            waiting_choice=options.waiting_choice,
        )
    return Made(plan_json(found), figures_of(found))


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
    }
