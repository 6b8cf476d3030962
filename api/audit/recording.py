"""Puts on the log what is called: everything that changes something, every sign-in and sign-out, every refusal to
somebody who is known, and every reading of the log itself.

The line is added when the answer is known and before it is sent. Should the database not take it then, it stands in the
operator's own log, and the answer is sent all the same, since what was done is done.
"""

from __future__ import annotations

import http
from dataclasses import asdict
from typing import Any, Protocol

import sqlalchemy as sa
import structlog
from anyio import to_thread
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.audit.repository import Line, add_line
from api.http.versions import VERSION
from api.storage.engine import Storage

_READING = ("GET", "HEAD", "OPTIONS")
_THE_LOG = ("/audit-log", "/log")


class Known(Protocol):
    """Whoever calls, as the access to the routes found it."""

    @property
    def company_id(self) -> str: ...
    @property
    def who(self) -> str: ...
    @property
    def account_id(self) -> str: ...
    @property
    def key_id(self) -> str: ...
    @property
    def session_id(self) -> str: ...


class AuditMiddleware:
    """Adds a line for each call that the log is about."""

    def __init__(self, app: ASGIApp, storage: Storage) -> None:
        self.app, self.storage = app, storage

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_after_the_line(message: Message) -> None:
            if message["type"] == "http.response.start":
                line = line_of(scope, message["status"], Headers(raw=message.get("headers", [])))
                if line is not None:
                    await to_thread.run_sync(self._add, line)
            await send(message)

        await self.app(scope, receive, send_after_the_line)

    def _add(self, line: Line) -> None:
        try:
            with self.storage.writing() as connection:
                add_line(connection, line)
        except sa.exc.SQLAlchemyError as error:
            structlog.get_logger().error("audit_line_not_kept", error=type(error).__name__, **asdict(line))


def line_of(scope: Scope, status: int, headers: Headers) -> Line | None:
    """The line for an answer; None where the log is not about such a call, or nobody is known who called."""
    state: dict[str, Any] = scope.get("state", {})
    caller: Known | None = state.get("caller")
    path, route = _bare(scope["path"]), _bare(getattr(scope.get("route"), "path", "") or scope["path"])
    reading = scope["method"] in _READING and not state.get("changes_something")
    told = not reading or status == 403 or path.startswith(_THE_LOG)
    if caller is None or not told:
        return None
    made = _bare(headers.get("location", "")) if status in (200, 201, 202, 303) else ""
    return Line(
        company_id=caller.company_id,
        who=caller.who,
        operation=f"{scope['method']} {route}",
        subject=f"{path} -> {made}" if made not in ("", "/", path) else path,
        address=scope["client"][0] if scope.get("client") else "unknown",
        status=status,
        result=result_of(status),
        account_id=caller.account_id,
        key_id=caller.key_id,
        session_id=caller.session_id,
        request_id=state.get("request_id", ""),
    )


def result_of(status: int) -> str:
    """What came of it, in words: 'done', or HTTP's phrase for the refusal."""
    return "done" if status < 400 else http.HTTPStatus(status).phrase.lower()


def _bare(path: str) -> str:
    return path.removeprefix(VERSION) if path.startswith(f"{VERSION}/") else path
