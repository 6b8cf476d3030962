"""Making, showing and ending a project's calendar feed."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from api.accounts.access import Issuer, Reader
from api.admission import GuardedRoute
from api.context import Context
from api.feeds import service
from api.feeds.repository import Row
from api.feeds.schemas import CalendarFeed, NewCalendarFeed
from api.http.problem_details import Problem
from api.http.responses import json_response, problems

router = APIRouter(route_class=GuardedRoute, prefix="/projects/{project_id}/calendar-feed", tags=["projects"])


def _told(row: Row) -> CalendarFeed:
    return CalendarFeed(made_at=row.made_at, made_by=row.made_by, last_used_at=row.last_used_at)


@router.post(
    "",
    operation_id="makeCalendarFeed",
    status_code=201,
    response_model=NewCalendarFeed,
    responses={**problems(404, 409), 201: {"description": "It is made; the address before is good no more"}},
)
def make_calendar_feed(project_id: str, request: Request, context: Context, caller: Issuer) -> Response:
    """Makes an address that calendar programs subscribe to without a key, or a new one in its place: GET
    /calendar/SECRET.ics answers with the newest issued revision's measuring, order and delivery days, or, until one is
    issued, those of the newest plan marked as a draft."""
    row, secret = service.make_feed(context, caller, project_id)
    made = NewCalendarFeed(
        **_told(row).model_dump(), address=service.address_with(str(request.base_url), secret)
    )
    return json_response(made, 201)


@router.get("", operation_id="getCalendarFeed", response_model=CalendarFeed, responses=problems(404))
def get_calendar_feed(project_id: str, context: Context, caller: Reader) -> CalendarFeed:
    """A project's calendar feed, without its address."""
    row = service.find_feed(context, caller, project_id)
    if row is None:
        raise Problem(404, "not-found", "The project has no calendar feed.")
    return _told(row)


@router.delete(
    "",
    operation_id="revokeCalendarFeed",
    status_code=204,
    response_class=Response,
    responses={**problems(404), 204: {"description": "Its address is not found any more"}},
)
def revoke_calendar_feed(project_id: str, context: Context, caller: Issuer) -> Response:
    """Ends a project's calendar feed."""
    service.revoke_feed(context, caller, project_id)
    return Response(status_code=204)
