"""Who looks at a page: on loopback without keys the local user; otherwise a key kept in a cookie of the browser.

The cookie is HttpOnly and SameSite=Strict, and a form is taken only from this service's own pages, so that no
other site's page can send one in somebody's name.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.accounts.access import Caller, caller_with_key, who_may
from api.accounts.repository import LOCAL_COMPANY
from api.pages.answers import PageRoute, go_to, page
from api.problem_details import Problem
from api.service import TheService

COOKIE = "barrier_orders_key"


def own_form(request: Request) -> None:
    """Raises Problem 403 for a form that another site's page sent."""
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    if site is not None:
        foreign = site not in ("same-origin", "none")
    else:
        foreign = origin is not None and urlsplit(origin).netloc != request.headers.get("host")
    if foreign:
        raise Problem(403, "forbidden", "This form came from another site's page and was not taken.")


OWN_FORM = [Depends(own_form)]


def _caller(request: Request, service: TheService) -> Caller:
    if not service.settings.keys_required:
        return Caller(LOCAL_COMPANY, "local user", "issue")
    address = request.client.host if request.client else "unknown"
    key = request.cookies.get(COOKIE)
    if key is None:
        raise Problem(401, "unauthorised", "Sign in with an API key.")
    return caller_with_key(service, address, key)


Reader = Annotated[Caller, Depends(who_may("read", _caller))]
Planner = Annotated[Caller, Depends(who_may("plan", _caller))]
Issuer = Annotated[Caller, Depends(who_may("issue", _caller))]

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/sign-in")
def sign_in_page(request: Request, service: TheService, next: str = "/") -> Response:
    """Asks for a key; without keys there is nothing to sign in to."""
    if not service.settings.keys_required:
        return go_to("/")
    return page(request, "sign_in.html", next=_own_address(next), refused="")


@router.post("/sign-in", dependencies=OWN_FORM)
def sign_in(
    request: Request,
    service: TheService,
    key: Annotated[str, Form(max_length=200)] = "",
    next: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Keeps a key that is known in the browser's cookie."""
    address = request.client.host if request.client else "unknown"
    try:
        caller_with_key(service, address, key.strip())
    except Problem as problem:
        return page(request, "sign_in.html", problem.status, next=_own_address(next), refused=problem.detail)
    answer = go_to(_own_address(next))
    answer.set_cookie(
        COOKIE,
        key.strip(),
        max_age=12 * 3600,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
    )
    return answer


@router.post("/sign-out", dependencies=OWN_FORM)
def sign_out(request: Request) -> Response:
    """Forgets the key in this browser."""
    answer = go_to("/sign-in")
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=request.url.scheme == "https")
    return answer


def _own_address(text: str) -> str:
    """An address of this service, or '/': never another site's."""
    parts = urlsplit(text)
    own = text.startswith("/") and not text.startswith("//") and "\\" not in text
    return text if own and not parts.scheme and not parts.netloc and text.isprintable() else "/"
