"""Companies, their keys, and whose key a request shows."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
import structlog

from api import clock
from api.accounts import repository
from api.accounts.keys import is_secret_of, new_key, parts_of
from api.accounts.names import UnusableName, usable_name
from api.accounts.roles import Role
from api.context import AppContext
from api.http.problem_details import Problem

LOCAL_COMPANY = "local"
_LONGEST_IN_WHO = 70  # of a name: older keys have some of 200, and `who` is kept in 200 characters
_USE_NOTED_EVERY = 60.0  # seconds: not each request writes when a key was last used


@dataclass(frozen=True)
class Caller:
    """Whose request this is: only this company's rows are seen; `who` is written beside every change.

    `account_id`, `key_id` and `session_id` are those of the person, the key and the browser, '' where there is none.
    """

    company_id: str
    who: str
    role: Role
    account_id: str = ""
    key_id: str = ""
    session_id: str = ""


LOCAL_USER = Caller(LOCAL_COMPANY, "this machine", "administer")


def company_named(connection: sa.Connection, name: str) -> str:
    """The id of the company with this name, made when there is none. Raises UnusableName."""
    known = repository.company_with_name(connection, name)
    if known is None:  # one from before names were checked is known as it stands
        name = usable_name(name, "company")
        known = repository.company_with_name(connection, name)
    if known is not None:
        return known
    company_id = LOCAL_COMPANY if name == LOCAL_COMPANY else uuid.uuid4().hex
    repository.add_company(connection, company_id, name)
    return company_id


def add_key(
    connection: sa.Connection,
    company: str,
    name: str,
    role: Role,
    account_id: str | None = None,
    expires_at: str | None = None,
) -> str:
    """A new key for a company (made when there is none), of a person where `account_id` says so: its text, which is
    shown this once. Raises UnusableName, also for a person of another company."""
    text, key_id, secret_hash = new_key()
    name, company_id = usable_name(name), company_named(connection, company)
    if account_id and repository.account_where(connection, id=account_id, company_id=company_id) is None:
        raise UnusableName(f"{company} has no account {account_id}: `people` lists them.")
    repository.keep_key(connection, key_id, company_id, name, role, secret_hash, account_id, expires_at)
    return text


def rotate_key(connection: sa.Connection, key_id: str, previous_until: str) -> str | None:
    """A new secret for a key: its text, which is shown this once; the secret before is good until that moment. None
    where there is no such key, or it was revoked."""
    key = repository.key_with_id(connection, key_id)
    if key is None:
        return None
    text, _, secret_hash = new_key(key_id=key_id)
    repository.change_secret(connection, key_id, secret_hash, key.secret_hash, previous_until)
    return text


def caller_with_key(context: AppContext, address: str, text: str) -> Caller:
    """Whose key this is. Raises Problem 401 for a key that is unknown, revoked or expired, 429 above the rate."""
    parts = parts_of(text)
    if parts is not None:
        with context.storage.reading() as connection:
            key = repository.key_with_id(connection, parts[0])
        if key is not None and (why := _why_not(key, parts[1])) is not None:
            if why:
                raise refused(context, address, why)
            context.rates.count(key.company_id)
            note_use(context, address, key)
            return caller_of_key(key)
    raise refused(context, address, "This API key is not known or was revoked.")


def _why_not(key: Any, secret: str) -> str | None:
    """Why a key is not good with this secret; '' where it is, None where the secret is another one's."""
    if not is_secret_of(secret, key.secret_hash):
        if not (key.previous_hash and is_secret_of(secret, key.previous_hash)):
            return None
        if key.previous_until <= clock.now():
            return f"This API key's secret was changed, and the one before was good until {key.previous_until[:16]}Z."
    return why_key_ended(key)


def why_key_ended(key: Any) -> str:
    """Why a key that is not revoked is good no more; '' where it is."""
    if key.expires_at is not None and key.expires_at <= clock.now():
        return f"This API key expired on {key.expires_at[:16]}Z."
    return "The account that this API key belongs to was ended." if key.person_ended is not None else ""


def caller_of_key(key: Any, session_id: str = "") -> Caller:
    """Who calls with a key; of a person's both are named."""
    name = key.name[:_LONGEST_IN_WHO]
    named = f"{key.person}, {name}" if key.person else name
    return Caller(
        key.company_id, f"{named} (key {key.id})", key.role, key.account_id or "", key.id, session_id
    )


def note_use(context: AppContext, address: str, key: Any) -> None:
    """Keeps when a key was last used, to the minute, and from where. What fails here stops no request."""
    if key.last_used_at is not None and clock.seconds_since(key.last_used_at) < _USE_NOTED_EVERY:
        return
    try:
        with context.storage.writing() as connection:
            repository.note_use_of_key(connection, key.id, address)
    except sa.exc.SQLAlchemyError as error:
        structlog.get_logger().warning("last_use_not_kept", key=key.id, error=type(error).__name__)


def refused(context: AppContext, address: str, detail: str) -> Problem:
    """The answer to a request without a usable key, which is counted. Raises Problem 429 above the rate."""
    context.rates.count_refusal(address)
    return Problem(401, "unauthorised", detail, headers={"WWW-Authenticate": "Bearer"})
