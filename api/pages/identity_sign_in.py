"""Signing in by an identity server, where one is set: there and back again, then a session like any other."""

from __future__ import annotations

import hmac
from typing import Annotated

import structlog
from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.accounts import identity_server
from api.accounts.access import OPEN_TO_ALL, address_of
from api.accounts.browsers import by_tls
from api.accounts.known_people import account_of_claims
from api.accounts.service import refused
from api.accounts.sessions import caller_of_account
from api.context import AppContext, Context
from api.http.problem_details import Problem
from api.pages.answers import PageRoute, go_to, page
from api.pages.sign_in import local_path, sign_in_as, sign_in_form

router = APIRouter(prefix="/sign-in", route_class=PageRoute, include_in_schema=False)
COOKIE = "barrier_orders_sign_in"
_MINUTES = 10
Text = Annotated[str, Query(max_length=4000)]


@router.get("/identity-server", dependencies=OPEN_TO_ALL)
def leave(request: Request, context: Context, next: Annotated[str, Query(max_length=500)] = "/") -> Response:
    """Sends the browser to the identity server."""
    settings = context.settings
    if not (settings.oidc_issuer and settings.keys_required):
        return go_to("/sign-in")
    try:
        address, begun = identity_server.begin(settings, _redirect_uri(request, context), local_path(next))
    except Problem as problem:
        return _not_signed_in(request, context, next, problem)
    answer = go_to(address)
    # Lax: the identity server's page sends the browser back here, and Strict would keep the cookie from it.
    answer.set_cookie(
        COOKIE,
        begun.as_cookie(),
        max_age=_MINUTES * 60,
        path="/sign-in",
        httponly=True,
        samesite="lax",
        secure=by_tls(request, settings),
    )
    return answer


@router.get("/done", dependencies=OPEN_TO_ALL)
def come_back(
    request: Request, context: Context, code: Text = "", state: Text = "", error: Text = "", iss: Text = ""
) -> Response:
    """Begins a session of whoever comes back from the identity server."""
    settings = context.settings
    if not (settings.oidc_issuer and settings.keys_required):
        return go_to("/sign-in")
    begun = identity_server.begun_in(request.cookies.get(COOKIE, ""))
    next = local_path(begun.next if begun else "/")
    try:
        if begun is None or not hmac.compare_digest(begun.state.encode(), state.encode()):
            raise Problem(401, "unauthorised", "This sign-in was not begun in this browser, or too long ago.")
        # RFC 9207: another server's answer may be mixed up with this one's
        if iss not in ("", settings.oidc_issuer):
            raise Problem(401, "unauthorised", "This answer is not of the identity server that is set here.")
        if error or not code:
            raise Problem(401, "unauthorised", "The identity server did not sign you in.")
        claims = identity_server.finish(settings, _redirect_uri(request, context), begun, code)
        with context.storage.writing() as connection:
            account = account_of_claims(connection, settings, claims)
    except Problem as problem:
        return _not_signed_in(request, context, next, problem)
    # A page of this service's own leads on: the browser was sent here by another site's, and does not send a Strict
    # cookie on from there.
    answer = page(request, "signed_in.html", next=next, who=account.name)
    sign_in_as(request, context, caller_of_account(account), answer)
    _forget(answer)
    return answer


def _redirect_uri(request: Request, context: AppContext) -> str:
    return f"{context.settings.base_address or str(request.base_url).rstrip('/')}/sign-in/done"


def _not_signed_in(request: Request, context: AppContext, next: str, problem: Problem) -> Response:
    structlog.get_logger().warning("not_signed_in", status=problem.status, why=problem.detail)
    if problem.status == 401:
        try:
            refused(context, address_of(request), problem.detail)
        except Problem as too_many:
            problem = too_many
    answer = sign_in_form(request, context, next, problem)
    _forget(answer)
    return answer


def _forget(answer: Response) -> None:
    answer.delete_cookie(COOKIE, path="/sign-in", httponly=True, samesite="lax")
