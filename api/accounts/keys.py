"""Secrets that prove who calls: API keys (`bo_`) and browsers' sessions (`bs_`), each with its id and its secret.

Only a secret's SHA-256 is kept. It has 192 random bits, so a plain hash of it cannot be searched; a slow hash is for
what people invent.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets

KEY, SESSION = "bo", "bs"
_FORM = re.compile(r"(bo|bs)_([0-9a-f]{16})_([0-9a-f]{48})")


def new_key(kind: str = KEY, key_id: str = "") -> tuple[str, str, str]:
    """A fresh key or session: its whole text (shown once), its id, and the hash that is kept. With `key_id`, a new
    secret of that one."""
    key_id, secret = key_id or secrets.token_hex(8), secrets.token_hex(24)
    return f"{kind}_{key_id}_{secret}", key_id, hash_of(secret)


def parts_of(text: str, kind: str = KEY) -> tuple[str, str] | None:
    """The id and the secret of a key or a session as it was sent, or None when it is none."""
    match = _FORM.fullmatch(text)
    return (match[2], match[3]) if match and match[1] == kind else None


def id_in(text: str) -> str:
    """The id in a key that an operator names by its whole text or by its id."""
    return text.removeprefix(f"{KEY}_").partition("_")[0]


def hash_of(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def is_secret_of(secret: str, kept_hash: str) -> bool:
    """Whether a secret has this hash, compared in constant time."""
    return hmac.compare_digest(hash_of(secret), kept_hash)
