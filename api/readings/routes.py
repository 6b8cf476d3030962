"""Sending gaps that were measured at the slab edge, and reading what was sent."""

from __future__ import annotations

from fastapi import APIRouter, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.responses import carrying, json_response, problems
from api.readings import service
from api.readings.schemas import AllReadings, KeptReadings, SentReadings

router = APIRouter(route_class=GuardedRoute, prefix="/projects/{project_id}/readings", tags=["readings"])


@router.post(
    "",
    operation_id="keepReadings",
    status_code=201,
    response_model=KeptReadings,
    responses={
        **problems(404, 409, 412, 413),
        200: {"description": "They were kept already: nothing is added", "model": KeptReadings},
        201: {"description": "They are kept", **carrying("Location")},
    },
)
@rendering
def keep_readings(project_id: str, sent: SentReadings, context: Context, caller: Planner) -> Response:
    """Puts readings into the survey as its next version. They have an id of their sender's own: sent twice they count
    once. Where a level has no nominal gap left, it goes on record as measured."""
    kept, new = service.keep_readings(context, caller, project_id, sent)
    if not new:
        return json_response(kept)
    return json_response(kept, 201, {"Location": f"/projects/{project_id}/readings"})


@router.get("", operation_id="listReadings", response_model=AllReadings, responses=problems(404))
def list_readings(project_id: str, context: Context, caller: Reader) -> AllReadings:
    """What was sent, in the order in which it was received."""
    return AllReadings(items=service.all_readings(context, caller, project_id))
