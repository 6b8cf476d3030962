"""The feed itself: read without a key by whoever has its address."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Request, Response

from api.accounts.access import OPEN_TO_ALL, address_of
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.feeds import service
from api.http.preconditions import names_etag

router = APIRouter(route_class=GuardedRoute, include_in_schema=False)
_MEDIA_TYPE = "text/calendar; charset=utf-8"


@router.get("/calendar/{name}", dependencies=OPEN_TO_ALL)
@rendering
def read_calendar_feed(
    name: str,
    request: Request,
    context: Context,
    if_none_match: Annotated[str | None, Header(max_length=1000)] = None,
) -> Response:
    """The calendar of a feed, or 304 where the program that asks has it already."""
    secret = name.removesuffix(".ics") if name.endswith(".ics") else ""
    caller, feed = service.reader_of(context, address_of(request), secret)
    shown = service.shown_by(context, caller, feed)
    headers = {"ETag": shown.etag, "Cache-Control": "private, no-cache"}
    if if_none_match and names_etag(if_none_match, shown.etag):
        return Response(status_code=304, headers=headers)
    content = service.calendar_of(context, caller, shown)
    return Response(content, media_type=_MEDIA_TYPE, headers=headers)
