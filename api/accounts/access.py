"""Who is calling: a company's key, or, on loopback without keys, the local user who may do everything.

The service's own pages call with the key in their browser's cookie.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Annotated, Any

from fastapi import Depends, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from api.accounts.browsers import COOKIE, from_another_site
from api.accounts.keys import Role, allows
from api.accounts.service import LOCAL_USER, Caller, caller_with_key, refused
from api.context import Context
from api.http.problem_details import Problem

_bearer = HTTPBearer(
    auto_error=False,
    scheme_name="API key",
    description="A company's API key. The embedded service on loopback needs none.",
)


def once_a_request(calling: Callable[..., Caller]) -> Callable[..., Caller]:
    """Finds a request's caller once: it is asked for before the body is read, and again by the route."""

    @wraps(calling)
    def found(request: Request, **more: Any) -> Caller:
        known: Caller | None = getattr(request.state, "caller", None)
        if known is None:
            known = request.state.caller = calling(request, **more)
        return known

    return found


@once_a_request
def _caller(
    request: Request,
    context: Context,
    sent: Annotated[HTTPAuthorizationCredentials | None, Security(_bearer)],
) -> Caller:
    address = request.client.host if request.client else "unknown"
    if sent is None:
        if not context.settings.keys_required and "authorization" not in request.headers:
            return LOCAL_USER
        kept = request.cookies.get(COOKIE)
        if kept is not None and not from_another_site(request):
            return caller_with_key(context, address, kept)
        raise refused(context, address, "Send an API key: Authorization: Bearer bo_...")
    return caller_with_key(context, address, sent.credentials)


def require_role(role: Role, calling: Callable[..., Caller] = _caller) -> Callable[..., Caller]:
    """A dependency: the caller that `calling` finds, when its role allows as much. Raises Problem 403."""

    def caller(found: Caller = Depends(calling)) -> Caller:  # noqa: B008 (`calling` is no global name)
        if not allows(found.role, role):
            raise Problem(403, "forbidden", f"This key's role is {found.role}; this needs {role}.")
        return found

    return caller


Reader = Annotated[Caller, Depends(require_role("read"))]
Planner = Annotated[Caller, Depends(require_role("plan"))]
Issuer = Annotated[Caller, Depends(require_role("issue"))]
