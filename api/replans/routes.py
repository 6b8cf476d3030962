"""Planning the rest of a job that has begun, in the background."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.responses import BINARY, accepted, carrying, file_response, json_response, problems
from api.idempotency.service import IdempotencyKey
from api.plans.schemas import PlanSummary, summary_of
from api.replans import service
from api.replans.schemas import ReplanRequest

router = APIRouter(route_class=GuardedRoute, prefix="/plans/{plan_id}", tags=["plans"])
_CSV: dict[int | str, dict[str, Any]] = {
    **problems(404, 409),
    200: {
        "description": "Rows against the plan that this one was made from",
        "content": {"text/csv": BINARY},
        **carrying("Content-Disposition"),
    },
}


@router.post(
    "/replans",
    operation_id="replanPlan",
    status_code=202,
    response_model=PlanSummary,
    responses={
        **problems(404, 409),
        202: accepted(PlanSummary, "Planned in the background: Location is the next plan's"),
    },
)
def create_replan(
    plan_id: str,
    context: Context,
    caller: Planner,
    wanted: Annotated[ReplanRequest | None, Body()] = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """Makes the next plan from this one, everything on record and the project's newest survey.

    What is cut, racked, on site and on order is used first; its order is what must be ordered beyond that.
    """
    row = service.request_replan(context, caller, plan_id, wanted or ReplanRequest(), idempotency_key)
    return json_response(summary_of(row), 202, {"Location": f"/plans/{row.id}", "Retry-After": "1"})


@router.get("/difference.csv", operation_id="readReplanDifference", response_class=Response, responses=_CSV)
@rendering
def read_difference(plan_id: str, context: Context, caller: Reader) -> Response:
    """What the next plan of a job orders on top of what is on record."""
    return file_response(service.changes(context, caller, plan_id, "difference"))


@router.get(
    "/labels-to-change.csv", operation_id="readLabelsToChange", response_class=Response, responses=_CSV
)
@rendering
def read_labels_to_change(plan_id: str, context: Context, caller: Reader) -> Response:
    """The labels that are wrong after the next plan of a job, and those of new pieces."""
    return file_response(service.changes(context, caller, plan_id, "labels-to-change"))
