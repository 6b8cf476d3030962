"""A refit as a job's only step: it runs in a limited process."""

from __future__ import annotations

from typing import Any


def make_refit(plan: str, survey: str, parameters: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """A refit as JSON text, and its `RefitFigures`, of a kept plan and a kept project.

    Raises CannotBeDone when the two do not belong together, BreaksRules when the judge rejects the refit.
    """
    from optimiser.plan import Plan
    from optimiser.project import Project
    from optimiser.refitting import refit
    from optimiser.writing.refit_report import refit_as_dict, refit_json

    made = refit(
        Plan.model_validate_json(plan),
        Project.model_validate_json(survey),
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


def revised_order(plan: str, survey: str, refit: str) -> str:
    """The order as it stands with a refit's on top of its plan's, as JSON text of the form of plan.json."""
    from api.refits.schemas import RefitResult
    from optimiser.ordering_more import order_with
    from optimiser.plan import Plan
    from optimiser.project import Project

    found = RefitResult.model_validate_json(refit)
    order = order_with(
        Plan.model_validate_json(plan).order,
        found.order,
        found.brought_forward,
        Project.model_validate_json(survey),
    )
    return order.model_dump_json(by_alias=True)
