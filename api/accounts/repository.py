"""Companies, people and their API keys in the database."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts.roles import Role
from api.storage.tables import accounts, api_keys, companies


def company_with_name(connection: sa.Connection, name: str) -> str | None:
    """The id of the company with this name."""
    found: str | None = connection.scalar(sa.select(companies.c.id).where(companies.c.name == name))
    return found


def add_company(connection: sa.Connection, company_id: str, name: str) -> None:
    """A new company."""
    connection.execute(sa.insert(companies).values(id=company_id, name=name, created_at=clock.now()))


# Keys


def keep_key(
    connection: sa.Connection,
    key_id: str,
    company_id: str,
    name: str,
    role: Role,
    secret_hash: str,
    account_id: str | None = None,
    expires_at: str | None = None,
) -> None:
    """A new key of a company."""
    connection.execute(
        sa.insert(api_keys).values(
            id=key_id,
            company_id=company_id,
            name=name,
            role=role,
            secret_hash=secret_hash,
            created_at=clock.now(),
            account_id=account_id,
            expires_at=expires_at,
        )
    )


def key_with_id(connection: sa.Connection, key_id: str) -> Any:
    """A key that is not revoked, with `person`, the name of whose it is, and `person_ended`, when that account was
    ended."""
    return connection.execute(
        sa.select(api_keys, accounts.c.name.label("person"), accounts.c.ended_at.label("person_ended"))
        .outerjoin(accounts, accounts.c.id == api_keys.c.account_id)
        .where(api_keys.c.id == key_id, api_keys.c.revoked_at.is_(None))
    ).first()


def note_use_of_key(connection: sa.Connection, key_id: str, address: str) -> None:
    """Says that a key is used now, and from where."""
    connection.execute(
        sa.update(api_keys)
        .where(api_keys.c.id == key_id)
        .values(last_used_at=clock.now(), last_used_from=address[:64])
    )


def change_secret(
    connection: sa.Connection, key_id: str, secret_hash: str, previous_hash: str, previous_until: str
) -> None:
    """Gives a key a new secret; the one before is good until a moment."""
    connection.execute(
        sa.update(api_keys)
        .where(api_keys.c.id == key_id)
        .values(secret_hash=secret_hash, previous_hash=previous_hash, previous_until=previous_until)
    )


def expire_key(connection: sa.Connection, key_id: str, at: str | None) -> bool:
    """Sets when a key expires (None: never); False when there is none with this id that is not revoked."""
    done = connection.execute(
        sa.update(api_keys)
        .where(api_keys.c.id == key_id, api_keys.c.revoked_at.is_(None))
        .values(expires_at=at)
    )
    return done.rowcount == 1


def revoke_key(connection: sa.Connection, key_id: str) -> bool:
    """Ends a key; False when there is none with this id."""
    done = connection.execute(
        sa.update(api_keys)
        .where(api_keys.c.id == key_id, api_keys.c.revoked_at.is_(None))
        .values(revoked_at=clock.now())
    )
    return done.rowcount == 1


def all_keys(connection: sa.Connection, company_id: str | None = None) -> list[Any]:
    """Every key, or a company's: with `company`, its name, and `person`. Never a secret."""
    shown = [column for column in api_keys.c if not column.name.endswith("hash")]
    query = (
        sa.select(*shown, companies.c.name.label("company"), accounts.c.name.label("person"))
        .join(companies, companies.c.id == api_keys.c.company_id)
        .outerjoin(accounts, accounts.c.id == api_keys.c.account_id)
        .order_by(companies.c.name, api_keys.c.created_at)
    )
    return list(
        connection.execute(query if company_id is None else query.where(api_keys.c.company_id == company_id))
    )


# People


def add_account(connection: sa.Connection, account_id: str, company_id: str, **values: Any) -> None:
    """A new account; `values` are its name, role, and what it is known by."""
    connection.execute(
        sa.insert(accounts).values(id=account_id, company_id=company_id, created_at=clock.now(), **values)
    )


def account_where(connection: sa.Connection, **values: Any) -> Any:
    """The account with these values that has not ended."""
    wanted = [accounts.c[name] == value for name, value in values.items()]
    return connection.execute(sa.select(accounts).where(accounts.c.ended_at.is_(None), *wanted)).first()


def change_account(connection: sa.Connection, account_id: str, **values: Any) -> None:
    """Gives an account other values."""
    connection.execute(sa.update(accounts).where(accounts.c.id == account_id).values(**values))


def all_accounts(connection: sa.Connection, company_id: str | None = None) -> list[Any]:
    """Every account, or a company's: with `company`, its name."""
    query = (
        sa.select(accounts, companies.c.name.label("company"))
        .join(companies, companies.c.id == accounts.c.company_id)
        .order_by(companies.c.name, accounts.c.created_at)
    )
    return list(
        connection.execute(query if company_id is None else query.where(accounts.c.company_id == company_id))
    )
