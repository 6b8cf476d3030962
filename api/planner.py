"""The one seam between the jobs and the optimiser: which steps a job of each kind takes, and who makes each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

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


_MAKERS: dict[str, Callable[[StepInput, Progress], Made]] = {
    "plan": plan_step,
    "check": _checked,
    "refit": refit_step,
}


def run_step(work: StepInput, *, progress: Progress) -> Made:
    """One step of a job, or one part of a job that is shared out. Runs in a limited process.

    Raises CannotBePlanned or BreaksTheRules.
    """
    with translate_errors():
        if work.step == "plan" and BEFORE in work.made:
            return replan_step(work, progress)
        return _MAKERS.get(work.step, study_step)(work, progress)
