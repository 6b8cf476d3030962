"""Issuing a plan's order."""

from __future__ import annotations

from fastapi import APIRouter, Response

from api.accounts.access import Issuer
from api.context import Context
from api.http.responses import json_response, problems
from api.orders.schemas import IssuedOrder, location_of
from api.plans import service

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
def issue_order(plan_id: str, context: Context, caller: Issuer) -> Response:
    """Freezes the plan's order as the project's next revision. Issuing a plan again changes nothing."""
    issued, new = service.issue_plan(context, caller, plan_id)
    return json_response(IssuedOrder.model_validate(issued), 201 if new else 200, location_of(issued))
