"""Companies and their API keys in the database."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts.keys import Role
from api.storage.tables import api_keys, companies


def company_with_name(connection: sa.Connection, name: str) -> str | None:
    """The id of the company with this name."""
    found: str | None = connection.scalar(sa.select(companies.c.id).where(companies.c.name == name))
    return found


def add_company(connection: sa.Connection, company_id: str, name: str) -> None:
    """A new company."""
    connection.execute(sa.insert(companies).values(id=company_id, name=name, created_at=clock.now()))


def keep_key(
    connection: sa.Connection, key_id: str, company_id: str, name: str, role: Role, secret_hash: str
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
        )
    )


def key_with_id(connection: sa.Connection, key_id: str) -> Any:
    """Company, name, role and hash of a key that is not revoked."""
    return connection.execute(
        sa.select(api_keys.c.company_id, api_keys.c.name, api_keys.c.role, api_keys.c.secret_hash).where(
            api_keys.c.id == key_id, api_keys.c.revoked_at.is_(None)
        )
    ).first()


def revoke_key(connection: sa.Connection, key_id: str) -> bool:
    """Ends a key; False when there is none with this id."""
    done = connection.execute(
        sa.update(api_keys)
        .where(api_keys.c.id == key_id, api_keys.c.revoked_at.is_(None))
        .values(revoked_at=clock.now())
    )
    return done.rowcount == 1


def all_keys(connection: sa.Connection) -> list[Any]:
    """Every key: company, id, name, role, when it was made and ended. Never its secret."""
    return list(
        connection.execute(
            sa.select(
                companies.c.name,
                api_keys.c.id,
                api_keys.c.name,
                api_keys.c.role,
                api_keys.c.created_at,
                api_keys.c.revoked_at,
            )
            .join(companies, companies.c.id == api_keys.c.company_id)
            .order_by(companies.c.name, api_keys.c.created_at)
        )
    )
