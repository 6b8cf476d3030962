"""Idempotency keys in the database: each with the request that it came with and what that request made."""

from __future__ import annotations

from typing import NamedTuple

import sqlalchemy as sa

from api import clock
from api.storage.engine import insert_into
from api.storage.tables import idempotency_keys


class KeptRequest(NamedTuple):
    """A request that was sent under a key: its digest, and the id of what it made."""

    request_hash: str
    made: str


def request_with_key(connection: sa.Connection, company_id: str, key: str) -> KeptRequest | None:
    """What was sent under a company's key."""
    found = connection.execute(
        sa.select(idempotency_keys.c.request_hash, idempotency_keys.c.made).where(
            idempotency_keys.c.company_id == company_id, idempotency_keys.c.key == key
        )
    ).first()
    return None if found is None else KeptRequest(found.request_hash, found.made)


def keep_key(connection: sa.Connection, company_id: str, key: str, request: KeptRequest) -> bool:
    """Keeps a key with its request; False when the key is kept already."""
    row = {
        "company_id": company_id,
        "key": key,
        "request_hash": request.request_hash,
        "made": request.made,
        "at": clock.now(),
    }
    kept = (
        insert_into(connection, idempotency_keys)
        .values(row)
        .on_conflict_do_nothing()
        .returning(idempotency_keys.c.key)
    )
    return connection.scalar(kept) is not None
