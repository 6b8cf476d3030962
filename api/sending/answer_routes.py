"""What a supplier answers to an issued order."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request

from api.accounts.access import Planner
from api.admission import GuardedRoute, uploading
from api.context import Context
from api.http.responses import problems
from api.sending import answers
from api.sending.answers import AnswerRead

router = APIRouter(route_class=GuardedRoute, tags=["orders"])
_DOCUMENT: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {"application/xml": {"schema": {"type": "string"}}},
        "description": "A UBL 2.1 OrderResponse or DespatchAdvice.",
    }
}


@router.post(
    "/plans/{plan_id}/answers",
    operation_id="addSupplierAnswer",
    response_model=AnswerRead,
    responses=problems(404, 409, 413),
    openapi_extra=_DOCUMENT,
)
@uploading
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
