"""A POST that is sent twice under one Idempotency-Key makes one thing.

The key is kept in the transaction that makes the thing, so a crash leaves both or neither, and a repeated
request finds what the first one made. A key used for another request is refused.
"""

from __future__ import annotations

import hashlib
from typing import Annotated

import sqlalchemy as sa
from fastapi import Header

from api import clock
from api.problem_details import Problem
from api.storage.engine import insert_into
from api.storage.tables import idempotency_keys

IdempotencyKey = Annotated[
    str | None,
    Header(
        min_length=1,
        max_length=255,
        pattern=r"^[\x21-\x7e]+$",
        description="Repeating a request under the same key makes nothing anew and answers what it made.",
        examples=["7e0c1f6a-order-2027-02"],
    ),
]


def digest(*parts: bytes | str) -> str:
    """One hash of a request's parts."""
    whole = hashlib.sha256()
    for part in parts:
        raw = part.encode() if isinstance(part, str) else part
        whole.update(len(raw).to_bytes(8, "big") + raw)
    return whole.hexdigest()


def made_before(connection: sa.Connection, company_id: str, key: str | None, request_hash: str) -> str | None:
    """The id of what this request made before, or None.

    Raises Problem 422 when the key belongs to another request.
    """
    if key is None:
        return None
    found = connection.execute(
        sa.select(idempotency_keys.c.made, idempotency_keys.c.request_hash).where(
            idempotency_keys.c.company_id == company_id, idempotency_keys.c.key == key
        )
    ).first()
    if found is None:
        return None
    if found.request_hash != request_hash:
        raise Problem(422, "idempotency-key-reused", "This Idempotency-Key was sent with another request.")
    made: str = found.made
    return made


def claim(
    connection: sa.Connection, company_id: str, key: str | None, request_hash: str, made: str
) -> str | None:
    """Keeps that this request made `made`; the id of what it made before, when it was first elsewhere.

    Raises Problem 422 when the key belongs to another request.
    """
    if key is None:
        return None
    row = {
        "company_id": company_id,
        "key": key,
        "request_hash": request_hash,
        "made": made,
        "at": clock.now(),
    }
    kept = (
        insert_into(connection, idempotency_keys)
        .values(row)
        .on_conflict_do_nothing()
        .returning(idempotency_keys.c.key)
    )
    if connection.scalar(kept) is not None:
        return None
    return made_before(connection, company_id, key, request_hash)
