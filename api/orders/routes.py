"""Issuing a plan's order, and reading what was issued."""

from __future__ import annotations

import json
from typing import Annotated

from fastapi import APIRouter, Path, Response

from api.accounts.access import Issuer, Reader
from api.limited_process import run_limited
from api.orders.chain import first_broken_revision
from api.orders.repository import chained, issue, issued_from_plan, issued_order, issued_orders_of
from api.orders.schemas import IssuedOrder, IssuedOrders, IssuedSummary
from api.planner import broken_rules_of
from api.plans.routes import finished_plan
from api.problem_details import Problem
from api.projects.repository import document_of
from api.projects.routes import TheService, found_project
from api.responses import json_response, problems

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
        row, document = finished_plan(connection, caller, plan_id)
        known = issued_from_plan(connection, caller.company_id, plan_id)
        project = document_of(connection, row.project_id, row.project_version).decode()
    location = {"Location": f"/projects/{row.project_id}/orders/{known['revision']}"} if known else {}
    if known is not None:
        return json_response(IssuedOrder.model_validate(known), 200, location)
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
    with service.storage.writing() as connection:
        issued = issue(
            connection,
            company_id=caller.company_id,
            project_id=row.project_id,
            project_version=row.project_version,
            plan_id=plan_id,
            order=json.loads(document)["order"],
            who=caller.who,
        )
    location = {"Location": f"/projects/{row.project_id}/orders/{issued['revision']}"}
    return json_response(IssuedOrder.model_validate(issued), 201, location)


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
