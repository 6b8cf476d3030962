"""API keys: `bo_` + the key's id + `_` + its secret. Only the secret's SHA-256 is kept.

A secret has 192 random bits, so a plain hash of it cannot be searched; a slow hash is for what people invent.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from typing import Literal

Role = Literal["read", "plan", "issue"]
ROLES: tuple[Role, ...] = ("read", "plan", "issue")  # each may do what those before it may
_FORM = re.compile(r"bo_([0-9a-f]{16})_([0-9a-f]{48})")


def new_key() -> tuple[str, str, str]:
    """A fresh key: its whole text (shown once), its id, and the hash that is kept."""
    key_id, secret = secrets.token_hex(8), secrets.token_hex(24)
    return f"bo_{key_id}_{secret}", key_id, hash_of(secret)


def parts_of(text: str) -> tuple[str, str] | None:
    """The id and the secret of a key as it was sent, or None when it is no key."""
    match = _FORM.fullmatch(text)
    return (match[1], match[2]) if match else None


def hash_of(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def is_secret_of(secret: str, kept_hash: str) -> bool:
    """Whether a secret has this hash, compared in constant time."""
    return hmac.compare_digest(hash_of(secret), kept_hash)


def allows(held: str, needed: Role) -> bool:
    """Whether a role may do what another may: issue may plan, plan may read."""
    return ROLES.index(held) >= ROLES.index(needed)
