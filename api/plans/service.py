"""Asking for plans, finding them, and issuing their orders."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.idempotency.service import made_before
from api.jobs import service as jobs
from api.jobs.model import Job
from api.limited_process import run_limited
from api.orders import service as orders
from api.orders.chain import Issued
from api.plans.files import documents_for
from api.plans.making import PlanOptions, broken_rules_of, order_on_top
from api.plans.schemas import summary_of
from api.projects.reading import ReadProject
from api.projects.service import add_version, document_of_version


def plan_made_before(
    context: AppContext, caller: Caller, idempotency_key: str | None, request_hash: str
) -> str | None:
    """The id of the plan that an equal request made. Raises Problem 422 when the key belongs to another request."""
    with context.storage.reading() as connection:
        return made_before(connection, caller.company_id, idempotency_key, request_hash)


def plan_newer_survey(
    context: AppContext,
    caller: Caller,
    project_id: str,
    version: int,
    survey: ReadProject,
    options: PlanOptions,
) -> str:
    """Keeps a newer survey as the project's next version and queues its plan, in one transaction: the plan's id.

    Raises Problem 412 when `version` is no longer the project's newest.
    """
    plan_id = uuid.uuid4().hex
    with context.storage.writing() as connection:
        newest = add_version(connection, caller, project_id, version, survey)
        jobs.add_job(connection, context, caller, plan_id, project_id, newest, "plan", asdict(options))
    return plan_id


def newest_plans(context: AppContext, caller: Caller, project_ids: Iterable[str]) -> dict[str, Job]:
    """The newest plan of each of the caller's projects that has one."""
    with context.storage.reading() as connection:
        rows = {one: jobs.recent_jobs(connection, caller, one, "plan", 1) for one in project_ids}
    return {project_id: found[0] for project_id, found in rows.items() if found}


def newest_by_staging(
    context: AppContext, caller: Caller, project_id: str, version: int
) -> dict[str, tuple[str, bytes]]:
    """By staging, the id and the JSON of the newest finished plan of a project's version that was asked for by its
    staging alone."""
    found: dict[str, tuple[str, bytes]] = {}
    with context.storage.reading() as connection:
        newest: dict[str, Job] = {}
        for row in jobs.recent_jobs(connection, caller, project_id, "plan", 200):
            wanted = summary_of(row).request
            plain = not (wanted.waiting_choice or wanted.carry_cost or wanted.replan_of)
            if row.status == "done" and row.project_version == version and plain:
                newest.setdefault(wanted.staging, row)
        for staging, row in newest.items():
            document = jobs.result_of(connection, row)
            if document is not None:
                found[staging] = (row.id, document)
    return found


def issue_plan(context: AppContext, caller: Caller, plan_id: str) -> tuple[Issued, bool]:
    """Freezes the plan's order as the project's next revision: the revision, and whether it is new.

    The plan is judged once more first. That of a job's rest goes on top of what was issued last. Raises Problem 404, or
    409 while it is not done, when it breaks rules, or when what was issued is not on the record that it was made from.
    """
    with context.storage.reading() as connection:
        row, document = jobs.find_finished_job(connection, caller, plan_id, "plan")
        known = orders.find_issued(connection, caller, plan_id)
        project = document_of_version(connection, row.project_id, row.project_version).decode()
        last = orders.last_issued(connection, row.project_id)
    if known is not None:
        return known, False
    broken: tuple[str, ...] = run_limited(
        broken_rules_of, document.decode(), project, seconds=120, megabytes=context.settings.job_megabytes
    )
    if broken:
        raise Problem(
            409,
            "broken-rules",
            f"The plan breaks {len(broken)} rules and cannot be issued.",
            broken_rules=list(broken)[:200],
        )
    order: dict[str, Any] = json.loads(document)["order"]
    if last is None or summary_of(row).request.replan_of is None:
        return orders.issue(context, caller, row, order, documents_for(context, row, document))
    order, unknown = order_after(context, document, last["order"])
    if unknown:
        raise Problem(
            409,
            "not-on-record",
            f"The plan was made from a record by which less is ordered than revision {last['revision']} ordered:"
            f" {', '.join(unknown)}. Record what was ordered, then plan the rest of the job again.",
        )
    made = documents_for(context, row, document)
    return orders.issue(context, caller, row, order, made, after_revision=last["revision"])


def order_after(
    context: AppContext, plan: bytes, placed: dict[str, Any]
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The order of a plan for a job's rest on top of the one that was placed, and the products of which less is on its
    record than was placed."""
    text, unknown = run_limited(
        order_on_top,
        plan.decode(),
        json.dumps(placed),
        seconds=60,
        megabytes=context.settings.job_megabytes,
    )
    return json.loads(text), unknown
