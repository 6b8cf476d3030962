"""The page on which an administrator reads who did what."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.audit.repository import lines_before
from api.context import Context
from api.pages.answers import PageRoute, page
from api.pages.sign_in import Administrator

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_LINES = 100


@router.get("/log")
def log_page(
    request: Request,
    context: Context,
    caller: Administrator,
    before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None,
) -> Response:
    """The newest lines of the log, or those before one of them."""
    with context.storage.reading() as connection:
        lines = lines_before(connection, caller.company_id, _LINES, before)
    older = lines[-1].number if len(lines) == _LINES else None
    return page(request, "log.html", caller=caller, lines=lines, older=older, newest=before is None)
