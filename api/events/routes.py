"""Writing down what happens on a job, and reading it back."""

from __future__ import annotations

from typing import Any

from anyio import to_thread
from fastapi import APIRouter, Request, Response

from api.accounts.access import Planner, Reader
from api.context import Context
from api.events import service
from api.events.schemas import EXAMPLE, RecordedEvent, SentEvents
from api.http.paging import After, Limit, Page, page_of
from api.http.responses import json_response, problems

router = APIRouter(prefix="/projects/{project_id}/events", tags=["events"])
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
    status_code=201,
    response_model=SentEvents,
    responses={
        **problems(404, 413),
        200: {"description": "All of them were on record already: nothing is added", "model": SentEvents},
    },
    openapi_extra=_BODY,
)
async def add_events(project_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """Adds events to the end of the record. Each has an id of its sender's own, so that sending it twice counts once.

    All are added, or none where any has a fault. An event is never altered: one of the kind 'undone' takes it back.
    """
    body = await request.body()
    sent = await to_thread.run_sync(service.send_events, context, caller, project_id, body)
    if not sent.added:
        return json_response(sent)
    return json_response(sent, 201, {"Location": f"/projects/{project_id}/events"})


@router.get("", response_model=Page[RecordedEvent], responses=problems(404))
def list_events(
    project_id: str, context: Context, caller: Reader, limit: Limit = 50, after: After = None
) -> Page[RecordedEvent]:
    """What happened on the job, the last received first."""
    items = service.events_page(context, caller, project_id, limit, after)
    return page_of(items, limit, str(items[-1].number) if items else "")
