"""Headers that every answer carries, and whom the keyless service on loopback listens to.

Without keys, whatever a browser on this machine sends would be obeyed: a page of another site could send a
form here, or have its own name resolve to 127.0.0.1. So the keyless service answers only to its own names, and
refuses requests that another origin's page caused.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.http.problem_details import send_problem

CONTENT_SECURITY_POLICY = (
    "default-src 'self'; img-src 'self' data:; style-src 'self'; script-src 'self'; object-src 'none';"
    " base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
_FORWARDED = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip")
_LOCAL_NAMES = ("localhost", "127.0.0.1", "::1", "testserver")


class SecurityHeadersMiddleware:
    """Adds the headers; answers are not stored by caches unless they say otherwise."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, send_with_headers)


class SameOriginMiddleware:
    """Refuses what reaches the keyless service under another name, from another site's page, or through a proxy."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            headers = Headers(scope=scope)
            host, origin = headers.get("host", ""), headers.get("origin")
            if any(name in headers for name in _FORWARDED):
                await _refuse(
                    scope,
                    send,
                    "This came through a proxy, and without API keys nobody else's request is served: set"
                    " BARRIER_ORDERS_KEYS_REQUIRED=true.",
                )
                return
            strange = _name_of(f"//{host}") not in _LOCAL_NAMES
            if strange or (origin is not None and not is_own_origin(origin, host)):
                await _refuse(
                    scope, send, "Without API keys the service answers only its own pages on loopback."
                )
                return
        await self.app(scope, receive, send)


def is_own_origin(origin: str, host: str) -> bool:
    """Whether an Origin header names the host that was called (RFC 6454); one that cannot be read names none."""
    try:
        return urlsplit(origin).netloc == host
    except ValueError:
        return False


def _name_of(address: str) -> str | None:
    try:
        return urlsplit(address).hostname
    except ValueError:
        return None


async def _refuse(scope: Scope, send: Send, detail: str) -> None:
    await send_problem(send, 403, "forbidden", detail, scope["path"])
