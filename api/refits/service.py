"""Asking for refits, finding them, and issuing their orders.

A refit's survey becomes the project's next version, and the job is queued, in one transaction.
"""

from __future__ import annotations

import json
import uuid
from dataclasses import asdict

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Fault, Problem
from api.idempotency.service import claim
from api.jobs.model import Job
from api.jobs.service import add_job, find_finished_job, find_job, keep_input, recent_jobs
from api.jobs.steps import Made
from api.limited_process import run_limited
from api.orders import service as orders
from api.orders.chain import Issued
from api.orders.difference import Because
from api.orders.repository import REFIT, KeptDocument
from api.plans.files import find_finished_plan
from api.projects.reading import ReadProject
from api.projects.service import Project, add_version, changed, document_of_version, find_project
from api.refits.making import revised_order
from api.refits.schemas import RefitRequest, RefitSummary, summary_of


def request_refit(
    context: AppContext,
    caller: Caller,
    wanted: RefitRequest,
    survey: ReadProject | None,
    *,
    replaces: frozenset[int] | None,
    idempotency_key: str | None,
    request_hash: str,
) -> Job:
    """A new refit of a finished plan to `survey` (None: to its project's newest version), or the one that an
    equal request made before. A survey that is not the newest version already is kept as the next.

    Raises Problem 404 when the caller's company has no such plan, 409 while it is not done, 412 when the project's
    newest version is none that it `replaces` (None: any), 422 when a level is none of the plan's.
    """
    refit_id = uuid.uuid4().hex
    with context.storage.writing() as connection:
        plan, document = find_finished_plan(connection, caller, wanted.plan_id)
        _refuse_unknown_levels(wanted, document)
        made = claim(connection, caller.company_id, idempotency_key, request_hash, refit_id)
        if made is not None:
            return find_job(connection, caller, made, "refit")
        version = _survey_version(connection, caller, plan.project_id, survey, replaces)
        parameters = wanted.model_dump() | {"scenario": json.loads(plan.parameters).get("scenario")}
        row = add_job(connection, context, caller, refit_id, plan.project_id, version, "refit", parameters)
        keep_input(connection, refit_id, "plan", json.dumps(asdict(Made(document.decode()))))
    return row


def plan_to_refit(context: AppContext, caller: Caller, plan_id: str) -> tuple[Job, Project]:
    """The caller's finished plan and its project. Raises Problem 404, or 409 while the plan is not done."""
    with context.storage.reading() as connection:
        plan, _ = find_finished_plan(connection, caller, plan_id)
        return plan, find_project(connection, caller, plan.project_id)


def refits_of_plan(context: AppContext, caller: Caller, plan_id: str, limit: int = 200) -> list[RefitSummary]:
    """The refits of a plan, newest first, among the newest `limit` of its project. Raises Problem 404."""
    with context.storage.reading() as connection:
        plan = find_job(connection, caller, plan_id, "plan")
        rows = recent_jobs(connection, caller, plan.project_id, "refit", limit)
    found = [summary_of(row) for row in rows]
    return [refit for refit in found if refit.request.plan_id == plan_id]


def refit_of_plan(context: AppContext, caller: Caller, plan_id: str, refit_id: str) -> RefitSummary:
    """A refit of a plan without its tables. Raises Problem 404 when the plan has no such."""
    with context.storage.reading() as connection:
        summary = summary_of(find_job(connection, caller, refit_id, "refit"))
    if summary.request.plan_id != plan_id:
        raise Problem(404, "not-found", "This plan has no such refit.")
    return summary


def issue_refit(context: AppContext, caller: Caller, refit_id: str) -> tuple[Issued, bool]:
    """Freezes the plan's order with the refit's on top of it as the project's next revision: the revision, and
    whether it is new.

    Raises Problem 404, 409 while the refit is not done or when the plan's order is not the last that was issued.
    """
    with context.storage.reading() as connection:
        row, refit = find_finished_job(connection, caller, refit_id, "refit")
        plan_id = summary_of(row).request.plan_id
        _, plan = find_finished_plan(connection, caller, plan_id)
        survey = document_of_version(connection, row.project_id, row.project_version)
        known = orders.find_issued(connection, caller, refit_id)
        newest = orders.newest_revision(connection, row.project_id)
    if known is not None:
        return orders.with_successor(known, newest), False
    order: str = run_limited(
        revised_order,
        plan.decode(),
        survey.decode(),
        refit.decode(),
        json.loads(row.parameters).get("scenario"),
        seconds=60,
        megabytes=context.settings.job_megabytes,
    )
    kept = tuple(
        KeptDocument(name, "application/json", content)
        for name, content in ((REFIT, refit), ("order.json", order.encode()))
    )
    because = Because(otherwise=("survey",))
    return orders.issue(
        context, caller, row, json.loads(order), lambda _: kept, on_top_of=plan_id, because=because
    )


def _survey_version(
    connection: sa.Connection,
    caller: Caller,
    project_id: str,
    survey: ReadProject | None,
    replaces: frozenset[int] | None,
) -> int:
    project = find_project(connection, caller, project_id)
    newest: int = project.version
    if replaces is not None and newest not in replaces:
        raise changed(project_id)
    if survey is None or document_of_version(connection, project_id, newest).decode() == survey.text:
        return newest
    return add_version(connection, caller, project_id, newest, survey)


def _refuse_unknown_levels(wanted: RefitRequest, plan: bytes) -> None:
    known = {level["level"] for level in json.loads(plan)["project"]["levels"]}
    faults = [
        Fault(
            place=f"query.{name}",
            message=f"{level} is no level of the plan",
            mend=f"name levels of the plan: {', '.join(sorted(known))}"[:500],
        ).model_dump()
        for name, levels in (("cut_levels", wanted.cut_levels or ()), ("fitted_levels", wanted.fitted_levels))
        for level in levels
        if level not in known
    ]
    if faults:
        raise Problem(422, "unusable-input", "Levels are named that the plan does not have.", errors=faults)
