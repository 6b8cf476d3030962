"""The hash chain of a project's issued orders: altering, dropping or swapping one breaks every later hash.

Who issued an order stands beside what is hashed, not in it: the hash covers the SHA-256 of the name behind a salt. So
the name can be erased with its salt, and no hash changes; until then it cannot be exchanged unseen. (Orders from before
that hold the name itself in what is hashed.)
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

FIRST = "0" * 64
UNHASHED = ("previous_hash", "hash", "issuer", "issuer_salt")
Issued = dict[str, Any]  # an issued order with its hashes, as `api.orders.schemas.IssuedOrder`


def hash_of_revision(previous_hash: str, document: dict[str, Any]) -> str:
    """SHA-256 over the previous revision's hash and this one's canonical JSON (sorted keys, no spaces)."""
    canonical = json.dumps(document, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(f"{previous_hash}\n{canonical}".encode()).hexdigest()


def first_broken_revision(revisions: Iterable[tuple[int, str, str, dict[str, Any]]]) -> int | None:
    """The place, from 1, of the first revision whose number, previous hash or hash is not what the chain demands; None:
    intact.

    Each is (revision, previous hash, hash, document), in order. Numbers are given without a gap, but for those that a
    document says were given before and lost (`numbers_lost`).
    """
    previous, last = FIRST, 0
    for number, (revision, previous_hash, own_hash, document) in enumerate(revisions, start=1):
        if (
            revision != last + 1 + numbers_lost(last, revision, document)
            or previous_hash != previous
            or own_hash != hash_of_revision(previous, document)
        ):
            return number
        previous, last = own_hash, revision
    return None


def numbers_lost(last: int, revision: int, document: dict[str, Any]) -> int:
    """How many numbers between `last` and `revision` a revision's document says were lost."""
    lost = document.get("numbers_lost")
    return len(lost) if isinstance(lost, list) and lost == list(range(last + 1, revision)) else 0


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
    return {name: value for name, value in issued.items() if name not in UNHASHED}


def commitment(issuer: str, salt: str) -> str:
    """What a hash covers of who issued: SHA-256 over a salt of 256 random bits and the name; without the salt nobody
    can tell whether a name was it."""
    return hashlib.sha256(f"{salt}\n{issuer}".encode()).hexdigest()
