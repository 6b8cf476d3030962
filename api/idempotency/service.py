"""A POST that is sent twice under one Idempotency-Key makes one thing.

The key is kept in the transaction that makes the thing, so a crash leaves both or neither, and a repeated
request finds what the first one made. A key used for another request is refused.
"""

from __future__ import annotations

import hashlib
from typing import Annotated

import sqlalchemy as sa
from fastapi import Header

from api.http.problem_details import Problem
from api.idempotency.repository import KeptRequest, keep_key, request_with_key

IdempotencyKey = Annotated[
    str | None,
    Header(
        min_length=1,
        max_length=255,
        pattern=r"^[\x21-\x7e]+$",
        description="Repeating a request under the same key makes nothing more and answers what it made.",
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
    found = None if key is None else request_with_key(connection, company_id, key)
    if found is None:
        return None
    if found.request_hash != request_hash:
        raise Problem(422, "idempotency-key-reused", "This Idempotency-Key was sent with another request.")
    return found.made


def claim(
    connection: sa.Connection, company_id: str, key: str | None, request_hash: str, made: str
) -> str | None:
    """Keeps that this request made `made`; the id of what it made before, when it was first elsewhere.

    Raises Problem 422 when the key belongs to another request.
    """
    if key is None or keep_key(connection, company_id, key, KeptRequest(request_hash, made)):
        return None
    return made_before(connection, company_id, key, request_hash)
