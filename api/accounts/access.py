"""Who is calling, and whether their role may: a company's key, or, on loopback without keys, this machine, which may do
everything.

The service's own pages call with the session in their browser's cookie. Every route names the role that it needs, or
says with `OPEN_TO_ALL` that it needs none.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Annotated, Any

from fastapi import Depends, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from api.accounts.browsers import COOKIE, from_another_site
from api.accounts.roles import ROLES, Role, allows
from api.accounts.service import LOCAL_USER, Caller, caller_with_key, refused
from api.accounts.sessions import caller_of_session
from api.context import Context
from api.http.problem_details import Problem

_bearer = HTTPBearer(
    auto_error=False,
    scheme_name="API key",
    description="A company's API key. The embedded service on loopback needs none.",
)
_NEEDS: dict[Callable[..., Any], Role] = {}


def address_of(request: Request) -> str:
    """Where a request comes from."""
    return request.client.host if request.client else "unknown"


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
    address = address_of(request)
    if sent is None:
        if not context.settings.keys_required and "authorization" not in request.headers:
            return LOCAL_USER
        session = request.cookies.get(COOKIE)
        if session is not None and not from_another_site(request):
            return caller_of_session(context, address, session)
        raise refused(context, address, "Send an API key: Authorization: Bearer bo_...")
    return caller_with_key(context, address, sent.credentials)


def require_role(role: Role, calling: Callable[..., Caller] = _caller) -> Callable[..., Caller]:
    """A dependency: the caller that `calling` finds, when its role allows as much. Raises Problem 403, which names the
    role that is needed."""

    def caller(request: Request, found: Caller = Depends(calling)) -> Caller:  # noqa: B008 (`calling` is no global)
        request.state.caller = found
        if not allows(found.role, role):
            whose = "This key's role" if found.key_id else "Your role"
            detail = f"{whose} is {found.role}; this needs {role}."
            raise Problem(403, "forbidden", detail, role=found.role, needs=role)
        return found

    _NEEDS[caller] = role
    return caller


def open_to_all() -> None:
    """Says of a route that nobody needs a role for it."""


OPEN_TO_ALL = [Depends(open_to_all)]


def role_needed(route: Any) -> Role | None:
    """The role that a route needs: the highest of those that its dependencies name; None where none does."""
    found = [_NEEDS[call] for call in _calls(route.dependant) if call in _NEEDS]
    return max(found, key=ROLES.index, default=None)


def is_open(route: Any) -> bool:
    """Whether a route says that it is open to all."""
    return any(call is open_to_all for call in _calls(route.dependant))


def _calls(dependant: Any) -> list[Any]:
    found = [dependant.call]
    for one in dependant.dependencies:
        found += _calls(one)
    return found


Reader = Annotated[Caller, Depends(require_role("read"))]
Planner = Annotated[Caller, Depends(require_role("plan"))]
Issuer = Annotated[Caller, Depends(require_role("issue"))]
Administrator = Annotated[Caller, Depends(require_role("administer"))]
