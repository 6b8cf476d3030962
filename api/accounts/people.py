"""Accounts: a person of a company, with a role, and what an identity server knows them by."""

from __future__ import annotations

import uuid
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts import repository
from api.accounts.names import UnusableName, usable_email, usable_name
from api.accounts.roles import Role
from api.accounts.service import company_named


def add_person(
    connection: sa.Connection,
    company: str,
    name: str,
    role: Role,
    email: str | None = None,
    issuer: str | None = None,
    subject: str | None = None,
) -> str:
    """A new account of a company (made when there is none): its id. Raises UnusableName, also for an e-mail address or
    a subject that another account is known by."""
    name, email = usable_name(name), usable_email(email) if email else None
    if email and repository.account_where(connection, email=email) is not None:
        raise UnusableName(f"Another account has the e-mail address {email}: end that one first.")
    if subject and repository.account_where(connection, issuer=issuer, subject=subject) is not None:
        raise UnusableName(f"Another account has the subject {subject}: end that one first.")
    return add_account_of(
        connection,
        company_named(connection, company),
        name=name,
        role=role,
        email=email,
        issuer=issuer,
        subject=subject,
    )


def add_account_of(connection: sa.Connection, company_id: str, **values: Any) -> str:
    """A new account of a company that is there: its id."""
    account_id = uuid.uuid4().hex[:16]
    repository.add_account(connection, account_id, company_id, **values)
    return account_id


def person_named(connection: sa.Connection, text: str) -> Any:
    """The account with this id or e-mail address that has not ended."""
    return repository.account_where(connection, id=text) or repository.account_where(
        connection, email=text.strip().casefold()
    )


def end_person(connection: sa.Connection, account_id: str) -> None:
    """Ends an account: its keys and sessions are good no more."""
    repository.change_account(connection, account_id, ended_at=clock.now())
