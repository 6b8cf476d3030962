"""HEAD wherever GET is answered: the same status and headers, without the body (RFC 9110, section 9.3.2)."""

from __future__ import annotations

from anyio import CancelScope
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_FOUND = ("route", "endpoint", "path_params")  # what those outside look up when the answer comes


class HeadMiddleware:
    """Answers HEAD as GET is answered, as far as its headers; what would stream its body is stopped there."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return
        answered = False
        inner = {**scope, "method": "GET", "state": scope.setdefault("state", {})}
        with CancelScope() as answering:

            async def send_headers(message: Message) -> None:
                nonlocal answered
                if message["type"] == "http.response.start":
                    scope.update({name: inner[name] for name in _FOUND if name in inner})
                    await send(message)
                elif not answered:
                    answered = True
                    await send({"type": "http.response.body", "body": b""})
                    if message.get("more_body", False):
                        answering.cancel()

            await self.app(inner, receive, send_headers)
