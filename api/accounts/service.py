"""Companies, their keys, and whose key a request shows."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

import sqlalchemy as sa

from api.accounts import repository
from api.accounts.keys import Role, is_secret_of, new_key, parts_of
from api.context import AppContext
from api.http.problem_details import Problem

LOCAL_COMPANY = "local"


@dataclass(frozen=True)
class Caller:
    """Whose request this is: only this company's rows are seen; `who` is written beside every change."""

    company_id: str
    who: str
    role: Role


LOCAL_USER = Caller(LOCAL_COMPANY, "local user", "issue")


def company_named(connection: sa.Connection, name: str) -> str:
    """The id of the company with this name, made when there is none."""
    known = repository.company_with_name(connection, name)
    if known is not None:
        return known
    company_id = LOCAL_COMPANY if name == LOCAL_COMPANY else uuid.uuid4().hex
    repository.add_company(connection, company_id, name)
    return company_id


def add_key(connection: sa.Connection, company: str, name: str, role: Role) -> str:
    """A new key for a company (made when there is none): its text, which is shown this once."""
    text, key_id, secret_hash = new_key()
    repository.keep_key(connection, key_id, company_named(connection, company), name, role, secret_hash)
    return text


def caller_with_key(context: AppContext, address: str, text: str) -> Caller:
    """Whose key this is. Raises Problem 401 for a key that is unknown or revoked, 429 above the rate."""
    parts = parts_of(text)
    if parts is not None:
        with context.storage.reading() as connection:
            key = repository.key_with_id(connection, parts[0])
        if key is not None and is_secret_of(parts[1], key.secret_hash):
            context.rates.count(key.company_id)
            return Caller(key.company_id, f"{key.name} (key {parts[0]})", key.role)
    raise refused(context, address, "This API key is not known or was revoked.")


def refused(context: AppContext, address: str, detail: str) -> Problem:
    """The answer to a request without a usable key, which is counted. Raises Problem 429 above the rate."""
    context.rates.count_refusal(address)
    return Problem(401, "unauthorised", detail, headers={"WWW-Authenticate": "Bearer"})
