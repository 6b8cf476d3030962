"""A worker that stops for ever (or for a while) in one step of a job, so that it can be killed just there.

`program(step, seconds)` is what to run. In 'start' and 'finish' it stops inside the step's transaction, before
it is committed; in the others in the process that makes the step.
"""

from __future__ import annotations

import os
import time
from functools import partial
from pathlib import Path
from typing import Any

from api import planner
from api.jobs.steps import Made, Progress, StepInput
from api.limited_process import run_limited
from api.workers import workflows

STEPS = ("start", *planner.STEPS["plan"], "finish")


def program(step: str, seconds: float = 3600) -> str:
    """The worker's program, as an argument of python -c."""
    return f"from tests.service.paused_worker import work; work({step!r}, {seconds})"


def paused_step(step: str, seconds: float, work: StepInput, *, progress: Progress) -> Made:
    """Runs in the step's own process."""
    if work.step == step:
        _pause(seconds)
    return planner.run_step(work, progress=progress)


def work(step: str, seconds: float) -> None:
    """Runs the worker."""
    workflows.run_step = partial(paused_step, step, seconds)  # type: ignore[assignment]
    workflows.run_limited = partial(run_limited, confined=False)  # type: ignore[assignment]  # it tells by a file
    for name in ("start", "finish"):
        if step == name:
            setattr(workflows, f"{name}_job", _after_a_pause(getattr(workflows, f"{name}_job"), seconds))
    from api.serving import worker

    worker()


def _after_a_pause(function: Any, seconds: float) -> Any:
    def paused(*arguments: Any, **more: Any) -> Any:
        made = function(*arguments, **more)
        _pause(seconds)
        return made

    return paused


def _pause(seconds: float) -> None:
    Path(os.environ["PAUSED"]).touch()
    time.sleep(seconds)
