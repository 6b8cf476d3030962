"""Signing in by an identity server: OpenID Connect Core 1.0, the authorization code flow with PKCE (RFC 7636).

A browser is sent there with a state, a nonce and the hash of a verifier, which it keeps in a cookie meanwhile. What it
comes back with is changed for an id_token with that verifier; who it is of counts only where the token is signed by a
key of the server's (RFC 7515), for this client, in time, and has the nonce.
"""

from __future__ import annotations

import json
import secrets
import time
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import httpx2
from authlib.integrations.base_client import OAuthError
from authlib.integrations.httpx_client import OAuth2Client
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet
from joserfc.jwt import JWTClaimsRegistry

from api.http.problem_details import Problem
from api.settings import Settings

_SECONDS = 10.0  # for each answer of the identity server
_LEEWAY = 60  # seconds that its clock may differ
_DESCRIBED_FOR = 600.0  # seconds that its description of itself is kept
# Signatures with a key pair only (RFC 7518, RFC 8037): none, and none with a shared secret.
_ALGORITHMS = ["RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA"]
_described: dict[str, tuple[float, dict[str, Any]]] = {}


@dataclass(frozen=True)
class Begun:
    """A sign-in that a browser has begun: what its cookie holds until it comes back, and where it goes then."""

    state: str
    nonce: str
    verifier: str
    next: str

    def as_cookie(self) -> str:
        """As a cookie's value."""
        return urlsafe_b64encode(json.dumps(asdict(self)).encode()).decode()


def begun_in(cookie: str) -> Begun | None:
    """What a cookie holds; None where it holds no sign-in."""
    try:
        found = json.loads(urlsafe_b64decode(cookie))
        begun = Begun(**found)
    except (ValueError, TypeError):
        return None
    return begun if all(isinstance(one, str) and one for one in asdict(begun).values()) else None


def begin(settings: Settings, redirect_uri: str, next: str) -> tuple[str, Begun]:
    """Where to send a browser to sign in, and what it must keep meanwhile. Raises Problem 503 when the identity server
    does not answer."""
    begun = Begun(secrets.token_urlsafe(32), secrets.token_urlsafe(32), secrets.token_urlsafe(48), next)
    with _talking():
        described = _description(settings)
        with _client(settings, redirect_uri, described) as client:
            address, _ = client.create_authorization_url(
                described["authorization_endpoint"],
                state=begun.state,
                nonce=begun.nonce,
                code_verifier=begun.verifier,
            )
    return str(address), begun


def finish(settings: Settings, redirect_uri: str, begun: Begun, code: str) -> dict[str, Any]:
    """What the identity server says of whoever came back with this code. Raises Problem 401 where it cannot be trusted,
    503 when the identity server does not answer."""
    with _talking():
        described = _description(settings)
        with _client(settings, redirect_uri, described) as client:
            token = client.fetch_token(described["token_endpoint"], code=code, code_verifier=begun.verifier)
        keys = KeySet.import_key_set(_fetched(described["jwks_uri"]))
        if not isinstance(token.get("id_token"), str):
            raise JoseError("it sent no id_token")
        return verified(token["id_token"], keys, settings, begun.nonce)


def verified(id_token: str, keys: KeySet, settings: Settings, nonce: str) -> dict[str, Any]:
    """The claims of an id_token, as OpenID Connect Core 1.0, 3.1.3.7 has them verified: signature, issuer, audience,
    authorised party, expiry, nonce. Raises JoseError where one is not right."""
    claims = jwt.decode(id_token, keys, algorithms=_ALGORITHMS).claims
    client = settings.oidc_client_id
    JWTClaimsRegistry(
        leeway=_LEEWAY,
        iss={"essential": True, "value": settings.oidc_issuer},
        aud={"essential": True, "value": client},
        exp={"essential": True},
        iat={"essential": True},
        nonce={"essential": True, "value": nonce},
        sub={"essential": True},
        azp={"essential": isinstance(claims.get("aud"), list) and len(claims["aud"]) > 1, "value": client},
    ).validate(claims)
    if not isinstance(claims["sub"], str) or not 0 < len(claims["sub"]) <= 255:
        raise JoseError("its subject is no text of at most 255 characters")
    return dict(claims)


def _client(settings: Settings, redirect_uri: str, described: dict[str, Any]) -> OAuth2Client:
    """A client that shows its secret as the server says that it takes it (RFC 6749, 2.3.1), or has none."""
    path = Path(settings.oidc_client_secret_file).expanduser() if settings.oidc_client_secret_file else None
    takes = described.get("token_endpoint_auth_methods_supported", ["client_secret_basic"])
    with_secret = "client_secret_basic" if "client_secret_basic" in takes else "client_secret_post"
    return OAuth2Client(
        client_id=settings.oidc_client_id,
        client_secret=path.read_text(encoding="utf-8").strip() if path else None,
        token_endpoint_auth_method=with_secret if path else "none",
        scope=settings.oidc_scope,
        redirect_uri=redirect_uri,
        code_challenge_method="S256",
        timeout=_SECONDS,
    )


def _description(settings: Settings) -> dict[str, Any]:
    """What the identity server says of itself (OpenID Connect Discovery 1.0)."""
    issuer = settings.oidc_issuer
    kept = _described.get(issuer)
    if kept is not None and time.monotonic() - kept[0] < _DESCRIBED_FOR:
        return kept[1]
    found: dict[str, Any] = _fetched(f"{issuer}/.well-known/openid-configuration")
    if found.get("issuer") != issuer:
        raise JoseError(f"it calls itself {found.get('issuer')!r}, not {issuer!r}")
    for needed in ("authorization_endpoint", "token_endpoint", "jwks_uri"):
        if not isinstance(found.get(needed), str):
            raise JoseError(f"it names no {needed}")
    _described[issuer] = (time.monotonic(), found)
    return found


def _fetched(address: str) -> Any:
    answer = httpx2.get(address, timeout=_SECONDS)
    answer.raise_for_status()
    return answer.json()


class _talking:  # noqa: N801 (a context manager, used like a function)
    """Turns what goes wrong between this service and the identity server into problems."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, OAuthError | JoseError | ValueError):
            said = getattr(error, "description", "") or getattr(error, "error", "") or str(error)
            detail = f"The identity server's answer cannot be taken: {str(said).rstrip('.')[:200]}."
            raise Problem(401, "unauthorised", detail) from error
        if isinstance(error, httpx2.HTTPError):
            detail = "The identity server does not answer as it should. Try again in a moment."
            raise Problem(
                503, "identity-server-unreachable", detail, headers={"Retry-After": "10"}
            ) from error
