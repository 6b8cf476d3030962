"""Asking for the next plan of a job that has begun, and what it changes for the supplier and for the crew.

The record as it stands and the project's newest survey are fixed when it is asked for, in one transaction.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from dataclasses import asdict
from datetime import date

from api import clock
from api.accounts.service import Caller
from api.context import AppContext
from api.events.service import record_of
from api.http.problem_details import Problem
from api.http.responses import File
from api.idempotency.service import claim, digest
from api.jobs.model import Job
from api.jobs.service import add_job, find_done_job, find_job, keep_input
from api.jobs.steps import Made
from api.orders.putting import put_beside
from api.plans.documents import FORMS
from api.plans.files import find_finished_plan, finished_plan
from api.plans.renderings import rendered
from api.plans.schemas import summary_of
from api.projects.service import find_project, lock_project
from api.replans.making import BEFORE, RECORD, difference_csv, labels_to_change_csv
from api.replans.schemas import ReplanRequest

CHANGES: dict[str, Callable[[str, str, date], bytes]] = {
    "difference": difference_csv,
    "labels-to-change": labels_to_change_csv,
}


def request_replan(
    context: AppContext, caller: Caller, plan_id: str, wanted: ReplanRequest, idempotency_key: str | None
) -> Job:
    """The next plan after a finished one, queued; or the one that an equal request made before.

    Raises Problem 404 when the caller's company has no such plan, 409 while it is not done.
    """
    next_id = uuid.uuid4().hex
    request_hash = digest("replan", plan_id, wanted.model_dump_json())
    with context.storage.writing() as connection:
        plan, document = find_finished_plan(connection, caller, plan_id)
        made = claim(connection, caller.company_id, idempotency_key, request_hash, next_id)
        if made is not None:
            return find_job(connection, caller, made, "plan")
        project = find_project(connection, caller, plan.project_id)
        parameters = {
            "staging": wanted.staging or json.loads(document)["staging"],
            "time_limit": wanted.time_limit,
            "seed": wanted.seed,
            "replan_of": plan_id,
        }
        scenario = json.loads(plan.parameters).get("scenario")
        if scenario is not None:  # what differs from the survey stays so
            parameters["scenario"] = scenario
        row = add_job(connection, context, caller, next_id, project.id, project.version, "plan", parameters)
        lock_project(connection, project.id)
        put_beside(connection, caller, project.id)
        for name, text in ((BEFORE, document.decode()), (RECORD, record_of(connection, project.id))):
            keep_input(connection, next_id, name, json.dumps(asdict(Made(text))))
    return row


def changes(context: AppContext, caller: Caller, plan_id: str, name: str) -> File:
    """One of CHANGES as CSV: what a plan changes against the one that it was made from.

    Raises Problem 404 also for a plan that was not made from another, 409 while it is not done.
    """
    with context.storage.reading() as connection:
        row = find_done_job(connection, caller, plan_id, "plan")
        earlier = summary_of(row).request.replan_of
        if earlier is None:
            raise Problem(
                404, "not-found", f"Plan {plan_id} is the first of its job: it changes no earlier plan."
            )

    def both() -> tuple[str, ...]:
        return tuple(finished_plan(context, caller, one)[1].decode() for one in (earlier, plan_id))

    made = rendered(context, plan_id, CHANGES[name], both, clock.today(), seconds=60)
    return File(made.coded, FORMS["csv"], f"{name}-{plan_id[:8]}.csv", made.coding)
