"""The one seam between the jobs and the optimiser: which steps a job of each kind takes, and who makes each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from api.jobs.steps import JOIN, SHARE_OUT, Made, Progress, StepInput, translate_errors
from api.plans.making import check_step, plan_step
from api.refits.making import refit_step
from api.replans.making import BEFORE, replan_step
from api.studies.making import study_step

STEPS: dict[str, tuple[str, ...]] = {
    "plan": ("plan", "check"),
    "refit": ("refit",),
    "comparison": (SHARE_OUT, JOIN),
    "allowance": (SHARE_OUT, JOIN),
    "frontier": (SHARE_OUT, JOIN),
    "scenario": (SHARE_OUT, JOIN),
}


def _checked(work: StepInput, progress: Progress) -> Made:
    """A plan that was judged once more, with what its pages show of it."""
    from api.pages.excerpts import excerpts_of

    made = check_step(work, progress)
    return replace(made, excerpts=excerpts_of(made.document))


def _refitted(work: StepInput, progress: Progress) -> Made:
    """A refit, with what its page shows of it."""
    from api.pages.excerpts import excerpts_of_refit

    made = refit_step(work, progress)
    return replace(made, excerpts=excerpts_of_refit(work.made["plan"].document, made.document))


_MAKERS: dict[str, Callable[[StepInput, Progress], Made]] = {
    "plan": plan_step,
    "check": _checked,
    "refit": _refitted,
}


def search_limits(
    kind: str, parameters: dict[str, Any], seconds: float
) -> tuple[dict[str, Any], float | None]:
    """What a job is made with, and after how many seconds each of its searches ends as it stands.

    A search that was set no limit ends after `seconds` with the best that it has, instead of being ended with nothing;
    until then it makes the plan that the command line makes, where a limit would be shared out among its parts. Each of
    a comparison's many options has a tenth of them as its limit, and the many small searches of a refit share them.
    """
    if "time_limit" not in parameters or parameters["time_limit"] is not None:
        return parameters, None
    if kind == "comparison":
        return {**parameters, "time_limit": seconds / 10}, None
    if kind == "refit":
        return {**parameters, "time_limit": seconds}, None
    return parameters, seconds


def run_step(work: StepInput, *, progress: Progress) -> Made:
    """One step of a job, or one part of a job that is shared out. Runs in a limited process.

    Raises CannotBePlanned or BreaksTheRules.
    """
    from optimiser.cutting.clock import stopping_after

    with translate_errors(), stopping_after(work.stop_after):
        if work.step == "plan" and BEFORE in work.made:
            return replan_step(work, progress)
        return _MAKERS.get(work.step, study_step)(work, progress)
