"""The next plan as a job's first step, and what it changes: each function here runs in a limited process."""

from __future__ import annotations

import json
from datetime import date

from api.jobs.steps import Made, Progress, StepInput, translate_errors
from api.plans.making import as_planned, figures_of

BEFORE, RECORD = "plan before", "record"  # what such a job starts from, kept as if earlier steps had made it


def replan_step(work: StepInput, progress: Progress) -> Made:
    """The plan for the rest of the job. Raises CannotBePlanned or BreaksTheRules."""
    from optimiser.model.plan import Plan
    from optimiser.reading.record_file import record_from_json
    from optimiser.replanning.replan import replan
    from optimiser.writing.data.plan_json import plan_json

    with translate_errors():
        made = replan(
            Plan.model_validate_json(work.made[BEFORE].document),
            record_from_json(json.loads(work.made[RECORD].document)),
            as_planned(work.project, work.parameters.get("scenario")),
            staging=work.parameters["staging"],
            time_limit=work.parameters["time_limit"],
            seed=work.parameters["seed"],
        )
    return Made(plan_json(made), figures_of(made))


def difference_csv(before: str, after: str, today: date) -> bytes:
    """What the next plan orders on top of what is on record, a row a product of a level's delivery, each with the day
    and price that it had and why it changed. What need not be ordered yet on a day may be dropped."""
    from optimiser.model.plan import Plan
    from optimiser.writing.data import changes_csv

    return changes_csv.difference_csv(
        Plan.model_validate_json(after), Plan.model_validate_json(before), today
    ).encode()


def labels_to_change_csv(before: str, after: str, _: date) -> bytes:
    """A row a piece whose label is wrong after the next plan, or that has none yet."""
    from optimiser.model.plan import Plan
    from optimiser.writing.data import changes_csv

    return changes_csv.labels_to_change_csv(
        Plan.model_validate_json(before), Plan.model_validate_json(after)
    ).encode()
