"""A refit as a job's only step: it runs in a limited process."""

from __future__ import annotations

from typing import Any

from api.jobs.steps import Made, Progress, StepInput
from api.plans.making import as_planned


def refit_step(work: StepInput, progress: Progress) -> Made:
    """The refit of a plan's cut pieces to a newer survey. Raises as `make_refit`."""
    return Made(*make_refit(work.made["plan"].document, work.project, work.parameters))


def make_refit(plan: str, survey: str, parameters: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """A refit as JSON text, and its `RefitFigures`, of a kept plan and a kept project.

    Raises CannotBeDone when the two do not belong together, BreaksRules when the judge rejects the refit.
    """
    from optimiser.model.plan import Plan
    from optimiser.replanning.refit import refit
    from optimiser.writing.data.refit_json import refit_as_dict, refit_json

    made = refit(
        Plan.model_validate_json(plan),
        as_planned(survey, parameters.get("scenario")),
        cut_levels=parameters["cut_levels"],
        fitted_levels=parameters["fitted_levels"],
        time_limit=parameters["time_limit"],
        seed=parameters["seed"],
    )
    order = refit_as_dict(made)["order"]
    figures = {
        "cut_pieces": made.cut_pieces,
        "reused_pieces": made.reused_pieces,
        "moved_pieces": len(made.moves),
        "cut_anew": len(made.recut),
        "total": order["total"],
        "currency": order["currency"],
    }
    return refit_json(made), figures


def revised_order(plan: str, survey: str, refit: str, scenario: dict[str, Any] | None = None) -> str:
    """The order as it stands with a refit's on top of its plan's, as JSON text of the form of plan.json."""
    from api.refits.schemas import RefitResult
    from optimiser.model.plan import Plan
    from optimiser.replanning.supplement import order_with

    found, made = RefitResult.model_validate_json(refit), Plan.model_validate_json(plan)
    newer = as_planned(survey, scenario)
    order = order_with(made.order, found.order, found.brought_forward, newer, made.project)
    return order.model_dump_json(by_alias=True)
