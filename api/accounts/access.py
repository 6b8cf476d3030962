"""Who is calling: a company's key, or, on loopback without keys, the local user who may do everything."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer

from api.accounts.keys import Role, allows, is_secret_of, parts_of
from api.accounts.repository import LOCAL_COMPANY, key_with_id
from api.problem_details import Problem
from api.service import Service, TheService

_bearer = HTTPBearer(
    auto_error=False,
    scheme_name="API key",
    description="A company's API key. The embedded service on loopback needs none.",
)


@dataclass(frozen=True)
class Caller:
    """Whose request this is: only this company's rows are seen; `who` is written beside every change."""

    company_id: str
    who: str
    role: Role


def _caller(
    request: Request,
    service: TheService,
    sent: Annotated[HTTPAuthorizationCredentials | None, Security(_bearer)],
) -> Caller:
    address = request.client.host if request.client else "unknown"
    if sent is None:
        if not service.settings.keys_required and "authorization" not in request.headers:
            return Caller(LOCAL_COMPANY, "local user", "issue")
        service.rates.count_refusal(address)
        raise _unauthorised("Send an API key: Authorization: Bearer bo_...")
    return caller_with_key(service, address, sent.credentials)


def caller_with_key(service: Service, address: str, text: str) -> Caller:
    """Whose key this is. Raises Problem 401 for a key that is unknown or revoked, 429 above the rate."""
    parts = parts_of(text)
    if parts is not None:
        with service.storage.reading() as connection:
            key = key_with_id(connection, parts[0])
        if key is not None and is_secret_of(parts[1], key.secret_hash):
            service.rates.count(key.company_id)
            return Caller(key.company_id, f"{key.name} (key {parts[0]})", key.role)
    service.rates.count_refusal(address)
    raise _unauthorised("This API key is not known or was revoked.")


def _unauthorised(detail: str) -> Problem:
    return Problem(401, "unauthorised", detail, headers={"WWW-Authenticate": "Bearer"})


def who_may(role: Role, calling: Callable[..., Caller] = _caller) -> Callable[..., Caller]:
    """A dependency: the caller that `calling` finds, when its role allows as much. Raises Problem 403."""

    def caller(found: Caller = Depends(calling)) -> Caller:  # noqa: B008 (`calling` is no global name)
        if not allows(found.role, role):
            raise Problem(403, "forbidden", f"This key's role is {found.role}; this needs {role}.")
        return found

    return caller


Reader = Annotated[Caller, Depends(who_may("read"))]
Planner = Annotated[Caller, Depends(who_may("plan"))]
Issuer = Annotated[Caller, Depends(who_may("issue"))]
