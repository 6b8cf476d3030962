"""Whose account an identity server's sign-in is: found by its subject or e-mail address, or made by its claims."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api.accounts import repository
from api.accounts.names import LONGEST, UnusableName, usable_name
from api.accounts.people import add_account_of
from api.accounts.roles import ROLES, Role
from api.http.problem_details import Problem
from api.settings import Settings


def account_of_claims(connection: sa.Connection, settings: Settings, claims: dict[str, Any]) -> Any:
    """The account of whoever these verified claims are of.

    It is known by the server's subject; the first time by its e-mail address, where the server has verified that, and
    from then on by the subject. Where a claim names the company, an account is made for whoever has none, in a company
    that is there already. Where a claim names the role, it is the account's from each sign-in on. Raises Problem 403,
    which says what is missing.
    """
    role = _role(settings, claims)
    account = _known(connection, claims)
    company = claims.get(settings.oidc_company_claim) if settings.oidc_company_claim else None
    if settings.oidc_company_claim:
        company_id = repository.company_with_name(connection, company) if isinstance(company, str) else None
        if company_id is None:
            raise _refused(f"its claim {settings.oidc_company_claim} names no company that is kept here")
        if account is not None and account.company_id != company_id:
            raise _refused("the account that it is known by is another company's")
        if account is None:
            account_id = add_account_of(
                connection,
                company_id,
                name=_name(claims),
                role=role or "read",
                issuer=claims["iss"],
                subject=claims["sub"],
            )
            account = repository.account_where(connection, id=account_id)
    if account is None:
        raise _refused("nobody has made an account for it: the operator does, with its e-mail address")
    if role is not None and role != account.role:
        repository.change_account(connection, account.id, role=role)
    return repository.account_where(connection, id=account.id)


def _known(connection: sa.Connection, claims: dict[str, Any]) -> Any:
    found = repository.account_where(connection, issuer=claims["iss"], subject=claims["sub"])
    email = claims.get("email")
    if found is not None or not isinstance(email, str) or claims.get("email_verified") is not True:
        return found
    found = repository.account_where(connection, email=email.strip().casefold())
    if found is None:
        return None
    if found.subject is not None:
        raise _refused("the account with its e-mail address is known by another subject already")
    repository.change_account(connection, found.id, issuer=claims["iss"], subject=claims["sub"])
    return found


def _role(settings: Settings, claims: dict[str, Any]) -> Role | None:
    """The highest role that the claim names; None where no claim is to name it. Raises Problem 403 where it names
    none."""
    if not settings.oidc_role_claim:
        return None
    said = claims.get(settings.oidc_role_claim)
    named = said if isinstance(said, list) else [said]
    found = [role for role in ROLES if role in named]
    if not found:
        raise _refused(f"its claim {settings.oidc_role_claim} names none of the roles {', '.join(ROLES)}")
    return found[-1]


def _name(claims: dict[str, Any]) -> str:
    for said in (claims.get("name"), claims.get("email"), claims["sub"]):
        if isinstance(said, str):
            try:
                return usable_name(said[: LONGEST["name"]])
            except UnusableName:
                continue
    return "no name given"


def _refused(why: str) -> Problem:
    return Problem(
        403, "forbidden", f"The identity server knows you, but you may not use this service: {why}."
    )
