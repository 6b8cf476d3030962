"""How a delivery is signed: HMAC-SHA256 over its id, its time and its body.

The scheme and the names of the headers are those of the Standard Webhooks specification (standardwebhooks.com,
version 1.0.0; from memory): `webhook-signature: v1,<base64>` over '<id>.<timestamp>.<body>', the secret in base64
behind `whsec_`.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

_PREFIX, _BYTES = "whsec_", 32


def new_secret() -> str:
    """A secret that nobody else knows."""
    return _PREFIX + base64.b64encode(secrets.token_bytes(_BYTES)).decode()


def signed_headers(secret: str, delivery_id: str, seconds: int, body: bytes) -> dict[str, str]:
    """The headers that a delivery carries; `seconds` is its time since 1970 (UTC)."""
    return {
        "webhook-id": delivery_id,
        "webhook-timestamp": str(seconds),
        "webhook-signature": f"v1,{signature(secret, delivery_id, seconds, body)}",
    }


def signature(secret: str, delivery_id: str, seconds: int, body: bytes) -> str:
    """The HMAC-SHA256 of a delivery in base64."""
    key = base64.b64decode(secret.removeprefix(_PREFIX))
    signed = f"{delivery_id}.{seconds}.".encode() + body
    return base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
