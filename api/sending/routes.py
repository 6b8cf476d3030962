"""Writing down what happens on a job."""

from __future__ import annotations

from typing import Any

from anyio import to_thread
from fastapi import APIRouter, Request, Response

from api.accounts.access import Planner
from api.admission import GuardedRoute, uploading
from api.context import Context
from api.events.schemas import EXAMPLE
from api.http.responses import carrying, json_response, problems
from api.sending import service
from api.sending.schemas import SentEvents

router = APIRouter(route_class=GuardedRoute, prefix="/projects/{project_id}/events", tags=["events"])
_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "application/json": {
                "schema": {"type": "array", "items": {"$ref": "#/components/schemas/Event"}},
                "example": [EXAMPLE],
            }
        },
    }
}


@router.post(
    "",
    operation_id="addEvents",
    status_code=201,
    response_model=SentEvents,
    responses={
        **problems(404, 413),
        201: {"description": "They are on record", **carrying("Location")},
        200: {"description": "All of them were on record already: nothing is added", "model": SentEvents},
    },
    openapi_extra=_BODY,
)
@uploading
async def add_events(project_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """Adds events to the end of the record. Each has an id of its sender's own, so that sending it twice counts once.

    All are added, or none where any has a fault. An event is never altered: one of the kind 'undone' takes it back.
    What an event names that the newest plan does not have is told as a warning; it is on record all the same.
    """
    body = await request.body()
    sent = await to_thread.run_sync(service.send_events, context, caller, project_id, body)
    if not sent.added:
        return json_response(sent)
    return json_response(sent, 201, {"Location": f"/projects/{project_id}/events"})
