"""A real identity server for the tests: oidc-provider-mock on loopback, with what it leaves out of PKCE put before it.

It signs tokens with a key of its own and keeps nonces, states and codes; that a code is changed with the verifier whose
hash began the sign-in (RFC 7636) is demanded here, since it does not.
"""

from __future__ import annotations

import base64
import hashlib
import io
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import parse_qs, urlsplit

import httpx
import oidc_provider_mock
from werkzeug.serving import make_server


class IdentityServer:
    """Its address, who it knows, and what it was asked."""

    def __init__(self) -> None:
        self.asked: list[dict[str, str]] = []
        self._challenges: dict[str, str] = {}
        self._app: Any = oidc_provider_mock.app(require_nonce=True)
        self.server = make_server("127.0.0.1", 0, self._answer, threaded=True)
        self.issuer = f"http://127.0.0.1:{self.server.server_port}"

    def knows(self, subject: str, **claims: Any) -> None:
        """From now on it says this of a subject."""
        httpx.put(f"{self.issuer}/users/{subject}", json=claims).raise_for_status()

    def signed_in(self, address: str, subject: str) -> str:
        """What its page does when somebody signs in there: the address that the browser is sent back to."""
        answer = httpx.post(address, data={"sub": subject})
        assert answer.status_code == 302, answer.text
        code = parse_qs(urlsplit(answer.headers["Location"]).query)["code"][0]
        self._challenges[code] = parse_qs(urlsplit(address).query)["code_challenge"][0]
        return answer.headers["Location"]

    def _answer(self, environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        if environ["PATH_INFO"] != "/oauth2/token":
            found: Iterable[bytes] = self._app(environ, start)
            return found
        body = environ["wsgi.input"].read(int(environ.get("CONTENT_LENGTH") or 0))
        environ["wsgi.input"] = io.BytesIO(body)
        sent = {name: values[0] for name, values in parse_qs(body.decode()).items()}
        self.asked.append({**sent, "authorization": environ.get("HTTP_AUTHORIZATION", "")})
        digest = hashlib.sha256(sent.get("code_verifier", "").encode()).digest()
        if base64.urlsafe_b64encode(digest).rstrip(b"=").decode() != self._challenges.get(
            sent.get("code", "")
        ):
            start("400 Bad Request", [("Content-Type", "application/json")])
            return [b'{"error": "invalid_grant", "error_description": "code_verifier is another one"}']
        answered: Iterable[bytes] = self._app(environ, start)
        return answered


@contextmanager
def identity_server() -> Iterator[IdentityServer]:
    """A running identity server."""
    found = IdentityServer()
    thread = threading.Thread(target=found.server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield found
    finally:
        found.server.shutdown()
        thread.join()
        found.server.server_close()
