"""The hash chain of a project's issued orders: altering, dropping or swapping one breaks every later hash."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

FIRST = "0" * 64
Issued = dict[str, Any]  # an issued order with its hashes, as `api.orders.schemas.IssuedOrder`


def hash_of_revision(previous_hash: str, document: dict[str, Any]) -> str:
    """SHA-256 over the previous revision's hash and this one's canonical JSON (sorted keys, no spaces)."""
    canonical = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(f"{previous_hash}\n{canonical}".encode()).hexdigest()


def first_broken_revision(revisions: Iterable[tuple[int, str, str, dict[str, Any]]]) -> int | None:
    """The first revision whose number, previous hash or hash is not what the chain demands; None: intact.

    Each is (revision, previous hash, hash, document), in order.
    """
    previous = FIRST
    for number, (revision, previous_hash, own_hash, document) in enumerate(revisions, start=1):
        if (
            revision != number
            or previous_hash != previous
            or own_hash != hash_of_revision(previous, document)
        ):
            return number
        previous = own_hash
    return None


def is_intact(issued: Iterable[Issued]) -> bool:
    """Whether a project's issued orders, first to last, are what they were: every hash is computed again."""
    return (
        first_broken_revision(
            (one["revision"], one["previous_hash"], one["hash"], hashed_part(one)) for one in issued
        )
        is None
    )


def hashed_part(issued: Issued) -> dict[str, Any]:
    """The part of an issued order that its hash covers beside the previous hash."""
    return {name: value for name, value in issued.items() if name not in ("previous_hash", "hash")}
