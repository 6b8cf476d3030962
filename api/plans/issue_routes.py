"""Issuing a plan's order, and what its supplier answers."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request, Response

from api.accounts.access import Issuer, Planner
from api.context import Context
from api.http.responses import json_response, problems
from api.orders.schemas import IssuedOrder, location_of
from api.plans import answers, service
from api.plans.answers import AnswerRead

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


_DOCUMENT: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/xml": {"schema": {"type": "string"}}},
        "description": "A UBL 2.1 OrderResponse or DespatchAdvice.",
    }
}


@router.post(
    "/plans/{plan_id}/answers",
    response_model=AnswerRead,
    responses=problems(404, 409, 413),
    openapi_extra=_DOCUMENT,
)
async def add_answer(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Planner,
    received_on: Annotated[
        date | None, Query(description="The day on which what was sent arrived and was counted.")
    ] = None,
) -> AnswerRead:
    """Writes a supplier's answer to an issued order down in the record: what is confirmed as ordered, what was sent as
    delivered. Sending a document twice counts once."""
    body = await request.body()
    return await to_thread.run_sync(answers.add_answer, context, caller, plan_id, body, received_on)
