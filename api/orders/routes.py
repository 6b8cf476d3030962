"""Issuing a plan's order, and reading what was issued."""

from __future__ import annotations

import json
from typing import Annotated

import sqlalchemy as sa
from fastapi import APIRouter, Path, Response

from api.accounts.access import Caller, Issuer, Reader
from api.jobs.repository import Job
from api.jobs.requests import finished_job
from api.limited_process import run_limited
from api.orders.chain import first_broken_revision
from api.orders.repository import (
    Issued,
    NotTheLastIssued,
    chained,
    issue,
    issued_from,
    issued_order,
    issued_orders_of,
)
from api.orders.schemas import IssuedOrder, IssuedOrders, IssuedSummary
from api.planner import broken_rules_of
from api.problem_details import Problem
from api.projects.repository import document_of
from api.projects.routes import found_project
from api.responses import json_response, problems
from api.service import Service, TheService

router = APIRouter(tags=["orders"])


@router.post(
    "/plans/{plan_id}/issue",
    status_code=201,
    response_model=IssuedOrder,
    responses={
        **problems(404, 409),
        200: {"description": "This plan was issued before: its revision, unchanged", "model": IssuedOrder},
    },
)
def issue_order(plan_id: str, service: TheService, caller: Issuer) -> Response:
    """Freezes the plan's order as the project's next revision. Issuing a plan again changes nothing."""
    with service.storage.reading() as connection:
        row, document = finished_job(connection, caller, plan_id, "plan")
        known = issued_before(connection, caller, row)
        project = document_of(connection, row.project_id, row.project_version).decode()
    if known is not None:
        return known
    broken = run_limited(
        broken_rules_of, document.decode(), project, seconds=120, megabytes=service.settings.job_megabytes
    )
    if broken:
        raise Problem(
            409,
            "broken-rules",
            f"The plan breaks {len(broken)} rules and cannot be issued.",
            broken_rules=list(broken)[:200],
        )
    return answer_issued(service, caller, row, json.dumps(json.loads(document)["order"]))


def issued_before(connection: sa.Connection, caller: Caller, job: Job) -> Response | None:
    """The answer with the revision that a plan or refit was issued as, if it was."""
    known = issued_from(connection, caller.company_id, job.id)
    return None if known is None else _issued_answer(known, 200)


def answer_issued(
    service: Service, caller: Caller, job: Job, order: str, on_top_of: str | None = None
) -> Response:
    """Issues the order of a plan, or of a refit `on_top_of` its plan's, and answers the revision.

    Raises Problem 409 when the plan's order is not the last that was issued.
    """
    try:
        with service.storage.writing() as connection:
            issued = issue(
                connection,
                company_id=caller.company_id,
                project_id=job.project_id,
                project_version=job.project_version,
                job_id=job.id,
                order=json.loads(order),
                who=caller.who,
                on_top_of=on_top_of,
            )
    except NotTheLastIssued:
        raise Problem(
            409,
            "not-the-last-issued",
            f"A refit is ordered on top of its plan's order, and that of plan {on_top_of} is not the last that was"
            " issued. Issue it first, or refit the plan that was issued last.",
        ) from None
    return _issued_answer(issued, 201)


def _issued_answer(issued: Issued, status: int) -> Response:
    location = f"/projects/{issued['project_id']}/orders/{issued['revision']}"
    return json_response(IssuedOrder.model_validate(issued), status, {"Location": location})


@router.get("/projects/{project_id}/orders", response_model=IssuedOrders, responses=problems(404))
def list_issued_orders(project_id: str, service: TheService, caller: Reader) -> IssuedOrders:
    """The project's issued orders, first to last; their hashes are computed anew."""
    with service.storage.reading() as connection:
        found_project(connection, caller, project_id)
        issued = issued_orders_of(connection, caller.company_id, project_id)
    return IssuedOrders(
        items=[IssuedSummary.model_validate(one) for one in issued],
        chain_intact=first_broken_revision(chained(one) for one in issued) is None,
    )


@router.get("/projects/{project_id}/orders/{revision}", response_model=IssuedOrder, responses=problems(404))
def read_issued_order(
    project_id: str,
    revision: Annotated[int, Path(ge=1, le=2**31 - 1)],
    service: TheService,
    caller: Reader,
) -> Response:
    """An issued order with what it changed."""
    with service.storage.reading() as connection:
        found_project(connection, caller, project_id)
        issued = issued_order(connection, caller.company_id, project_id, revision)
    if issued is None:
        raise Problem(404, "not-found", f"Project {project_id} has no issued order {revision}.")
    return json_response(IssuedOrder.model_validate(issued), 200)
