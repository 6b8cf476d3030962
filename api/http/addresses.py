"""What an address may hold: control characters are refused before anything looks for what is named with them.

PostgreSQL keeps no NUL in a text, and no row is named with a control character.
"""

from __future__ import annotations

from urllib.parse import unquote_to_bytes

from starlette.types import ASGIApp, Receive, Scope, Send

from api.http.problem_details import send_problem

_CONTROL = frozenset(range(32)) | {127}
_DETAIL = "The address has a control character (such as %00), which nothing here is named with: leave it out."


class PlainAddressMiddleware:
    """Refuses a request whose path holds a control character, or whose query NUL."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not _has_control_characters(scope):
            await self.app(scope, receive, send)
            return
        instance = scope["path"].encode("ascii", "backslashreplace").decode()
        await send_problem(send, 400, "unusable-address", _DETAIL, instance)


def _has_control_characters(scope: Scope) -> bool:
    in_query = b"\x00" in unquote_to_bytes(scope.get("query_string", b""))
    return in_query or any(ord(letter) in _CONTROL for letter in scope["path"])
