"""A building's calendar feed: made, renewed and revoked; its address is shown once."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.context import Context
from api.feeds import service
from api.pages.answers import PageRoute, go_to, page
from api.pages.sign_in import SAME_SITE_ONLY, Issuer, Reader
from api.projects.service import get_project

router = APIRouter(prefix="/buildings/{building_id}", route_class=PageRoute, include_in_schema=False)


@router.post("/calendar-feed", dependencies=SAME_SITE_ONLY)
def make(building_id: str, request: Request, context: Context, caller: Issuer) -> Response:
    """A new address, shown this once; the one before is good no more."""
    building = get_project(context, caller, building_id)
    _, secret = service.make_feed(context, caller, building_id)
    answer = page(
        request,
        "feed.html",
        caller=caller,
        building=building,
        address=service.address_with(str(request.base_url), secret),
    )
    answer.headers["Cache-Control"] = "no-store"
    return answer


@router.get("/calendar-feed")
@router.get("/calendar-feed/revoke")
def not_shown_again(building_id: str, caller: Reader) -> Response:
    """Where a form's answer was shown: the address is shown no more."""
    return go_to(f"/buildings/{building_id}#feed")


@router.post("/calendar-feed/revoke", dependencies=SAME_SITE_ONLY)
def revoke(building_id: str, context: Context, caller: Issuer) -> Response:
    """Ends the feed."""
    service.revoke_feed(context, caller, building_id)
    return go_to(f"/buildings/{building_id}#feed")
