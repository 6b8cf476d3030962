"""Who looks at a page: on loopback without keys the local user; otherwise a key kept in a cookie of the browser.

The cookie is HttpOnly and SameSite=Strict, and a form is taken only from this service's own pages, so that no
other site's page can send one in somebody's name.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.accounts.access import OPEN_TO_ALL, once_a_request, require_role
from api.accounts.browsers import COOKIE, from_another_site
from api.accounts.service import LOCAL_USER, Caller, caller_with_key
from api.context import Context
from api.http.problem_details import Problem
from api.pages.answers import PageRoute, go_to, page


def refuse_cross_site(request: Request) -> None:
    """Raises Problem 403 for a form that another site's page sent."""
    if from_another_site(request):
        raise Problem(403, "forbidden", "This form came from another site's page and was not taken.")


SAME_SITE_ONLY = [Depends(refuse_cross_site)]


@once_a_request
def _caller(request: Request, context: Context) -> Caller:
    if not context.settings.keys_required:
        return LOCAL_USER
    address = request.client.host if request.client else "unknown"
    key = request.cookies.get(COOKIE)
    if key is None:
        raise Problem(401, "unauthorised", "Sign in with an API key.")
    return caller_with_key(context, address, key)


Reader = Annotated[Caller, Depends(require_role("read", _caller))]
Planner = Annotated[Caller, Depends(require_role("plan", _caller))]
Issuer = Annotated[Caller, Depends(require_role("issue", _caller))]

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/sign-in", dependencies=OPEN_TO_ALL)
def sign_in_page(request: Request, context: Context, next: str = "/") -> Response:
    """Asks for a key; without keys there is nothing to sign in to."""
    if not context.settings.keys_required:
        return go_to("/")
    return page(request, "sign_in.html", next=_local_path(next), refused="")


@router.post("/sign-in", dependencies=[*SAME_SITE_ONLY, *OPEN_TO_ALL])
def sign_in(
    request: Request,
    context: Context,
    key: Annotated[str, Form(max_length=200)] = "",
    next: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Keeps a key that is known in the browser's cookie."""
    address = request.client.host if request.client else "unknown"
    try:
        caller_with_key(context, address, key.strip())
    except Problem as problem:
        return page(request, "sign_in.html", problem.status, next=_local_path(next), refused=problem.detail)
    answer = go_to(_local_path(next))
    answer.set_cookie(
        COOKIE,
        key.strip(),
        max_age=12 * 3600,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return answer


@router.post("/sign-out", dependencies=[*SAME_SITE_ONLY, *OPEN_TO_ALL])
def sign_out(request: Request) -> Response:
    """Forgets the key in this browser."""
    answer = go_to("/sign-in")
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=request.url.scheme == "https")
    return answer


def _local_path(text: str) -> str:
    """An address of this service, or '/': never another site's."""
    parts = urlsplit(text)
    own = text.startswith("/") and not text.startswith("//") and "\\" not in text
    return text if own and not parts.scheme and not parts.netloc and text.isprintable() else "/"
