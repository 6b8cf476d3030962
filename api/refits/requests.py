"""Asking for a refit: its survey becomes the project's next version, and the job is queued, in one transaction."""

from __future__ import annotations

import json
import uuid
from dataclasses import asdict

import sqlalchemy as sa

from api.accounts.access import Caller
from api.idempotency import claim
from api.jobs.repository import Job, jobs_of_project, keep_step
from api.jobs.requests import add_requested_job, finished_job, found_job
from api.planner import Made, ReadProject
from api.problem_details import Fault, Problem
from api.projects.repository import document_of, replace_project
from api.projects.routes import changed, found_project
from api.refits.schemas import RefitRequest, RefitSummary, summary_of
from api.service import Service


def request_refit(
    service: Service,
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
    with service.storage.writing() as connection:
        plan, document = finished_job(connection, caller, wanted.plan_id, "plan")
        _refuse_strange_levels(wanted, document)
        made = claim(connection, caller.company_id, idempotency_key, request_hash, refit_id)
        if made is not None:
            return found_job(connection, caller, made, "refit")
        version = _survey_version(connection, caller, plan.project_id, survey, replaces)
        row = add_requested_job(
            connection, service, caller, refit_id, plan.project_id, version, "refit", wanted.model_dump()
        )
        keep_step(connection, refit_id, "plan", json.dumps(asdict(Made(document.decode()))))
    return row


def refits_of_plan(
    connection: sa.Connection, caller: Caller, plan: Job, limit: int = 200
) -> list[RefitSummary]:
    """The refits of a plan, newest first, among the newest `limit` of its project."""
    rows = jobs_of_project(connection, caller.company_id, plan.project_id, "refit", limit, None)
    found = [summary_of(row) for row in rows]
    return [refit for refit in found if refit.request.plan_id == plan.id]


def _survey_version(
    connection: sa.Connection,
    caller: Caller,
    project_id: str,
    survey: ReadProject | None,
    replaces: frozenset[int] | None,
) -> int:
    project = found_project(connection, caller, project_id)
    newest: int = project.version
    if replaces is not None and newest not in replaces:
        raise changed(project_id)
    if survey is None or document_of(connection, project_id, newest).decode() == survey.text:
        return newest
    if not replace_project(connection, caller.company_id, project_id, newest, survey, caller.who):
        raise changed(project_id)
    return newest + 1


def _refuse_strange_levels(wanted: RefitRequest, plan: bytes) -> None:
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
        raise Problem(422, "unusable-input", "Levels are named that the plan has not.", errors=faults)
