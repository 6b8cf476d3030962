"""Who looks at a page: on loopback without keys this machine; otherwise whoever's session the browser's cookie holds.

Signing in with a key begins a session. A form is taken only from this service's own pages, so that no other site's page
can send one in somebody's name.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import Response

from api.accounts.access import OPEN_TO_ALL, address_of, once_a_request, require_role
from api.accounts.browsers import COOKIE, forget_session, from_another_site, keep_session
from api.accounts.service import LOCAL_USER, Caller, caller_with_key
from api.accounts.sessions import (
    begin_session,
    caller_of_session,
    end_session,
    end_sessions_of,
    standing_sessions,
)
from api.context import AppContext, Context
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
    session = request.cookies.get(COOKIE)
    if session is None:
        raise Problem(401, "unauthorised", "Sign in.")
    return caller_of_session(context, address_of(request), session)


Reader = Annotated[Caller, Depends(require_role("read", _caller))]
Planner = Annotated[Caller, Depends(require_role("plan", _caller))]
Issuer = Annotated[Caller, Depends(require_role("issue", _caller))]
Administrator = Annotated[Caller, Depends(require_role("administer", _caller))]

router = APIRouter(route_class=PageRoute, include_in_schema=False)


@router.get("/sign-in", dependencies=OPEN_TO_ALL)
def sign_in_page(request: Request, context: Context, next: str = "/") -> Response:
    """Asks for a key; without keys there is nothing to sign in to."""
    if not context.settings.keys_required:
        return go_to("/")
    return sign_in_form(request, context, next)


@router.post("/sign-in", dependencies=[*SAME_SITE_ONLY, *OPEN_TO_ALL])
def sign_in(
    request: Request,
    context: Context,
    key: Annotated[str, Form(max_length=200)] = "",
    next: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Begins a session with a key that is good, in place of the one that this browser had."""
    try:
        caller = caller_with_key(context, address_of(request), key.strip())
    except Problem as problem:
        return sign_in_form(request, context, next, problem)
    answer = go_to(local_path(next))
    sign_in_as(request, context, caller, answer)
    return answer


@router.post("/sign-out", dependencies=[*SAME_SITE_ONLY, *OPEN_TO_ALL])
def sign_out(
    request: Request, context: Context, everywhere: Annotated[str, Form(max_length=10)] = ""
) -> Response:
    """Ends this browser's session at once, or every one of the same person or key."""
    session = request.cookies.get(COOKIE)
    if session is not None and context.settings.keys_required:
        try:
            caller = caller_of_session(context, address_of(request), session)
        except Problem:
            pass  # it has ended already
        else:
            request.state.caller = caller
            with context.storage.writing() as connection:
                if everywhere:
                    end_sessions_of(connection, caller)
                end_session(connection, caller.session_id)
    answer = go_to("/sign-in")
    forget_session(answer, request, context.settings)
    return answer


@router.get("/account")
def account_page(request: Request, context: Context, caller: Reader) -> Response:
    """Who is signed in, and where."""
    with context.storage.reading() as connection:
        sessions = standing_sessions(connection, caller) if caller.session_id else []
    return page(request, "account.html", caller=caller, sessions=sessions)


def sign_in_as(request: Request, context: AppContext, caller: Caller, answer: Response) -> None:
    """Begins a session of whoever was found, and has the browser keep it with this answer."""
    browser = request.headers.get("user-agent", "")
    with context.storage.writing() as connection:
        session = begin_session(connection, context.settings, caller, address_of(request), browser)
    request.state.caller = replace(caller, session_id=session.split("_")[1])
    request.state.changes_something = True  # also where the browser comes back from an identity server by GET
    keep_session(answer, request, context.settings, session)


def sign_in_form(
    request: Request, context: AppContext, next: str, problem: Problem | None = None
) -> Response:
    """The page that asks who it is; after a problem, which."""
    status, refused = (200, "") if problem is None else (problem.status, problem.detail)
    hours = context.settings.session_hours
    return page(
        request,
        "sign_in.html",
        status,
        next=local_path(next),
        refused=refused,
        hours=hours,
        identity_server=urlsplit(context.settings.oidc_issuer).hostname,
    )


def local_path(text: str) -> str:
    """An address of this service, or '/': never another site's."""
    parts = urlsplit(text)
    own = text.startswith("/") and not text.startswith("//") and "\\" not in text
    return text if own and not parts.scheme and not parts.netloc and text.isprintable() else "/"
