"""A browser's requests: the cookie that holds its session, and whether another site's page caused them.

The cookie is HttpOnly and SameSite=Strict, so that no script reads it and no other site's page has it sent, and Secure
where the service is reached by TLS; requests of other sites' pages are refused on top of that.
"""

from __future__ import annotations

from fastapi import Request
from fastapi.responses import Response

from api.http.security import is_own_origin
from api.settings import Settings

COOKIE = "barrier_orders_session"


def from_another_site(request: Request) -> bool:
    """Whether a browser says that a page of another origin caused this request."""
    site, origin = request.headers.get("sec-fetch-site"), request.headers.get("origin")
    if site is not None:
        return site not in ("same-origin", "none")
    return origin is not None and not is_own_origin(origin, request.headers.get("host", ""))


def by_tls(request: Request, settings: Settings) -> bool:
    """Whether browsers reach the service by TLS: here, or in front of it as its own address says."""
    return request.url.scheme == "https" or settings.base_address.startswith("https:")


def keep_session(answer: Response, request: Request, settings: Settings, session: str) -> None:
    """Has the browser keep a session, as long as it may last."""
    answer.set_cookie(
        COOKIE,
        session,
        max_age=settings.session_hours * 3600,
        httponly=True,
        samesite="strict",
        secure=by_tls(request, settings),
    )


def forget_session(answer: Response, request: Request, settings: Settings) -> None:
    """Has the browser forget its session."""
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=by_tls(request, settings))
