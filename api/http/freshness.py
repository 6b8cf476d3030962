"""What a browser may keep of an answer, how it asks whether that still holds, and how an answer is made smaller.

Pages and files carry an ETag of everything that they show; asked for again with it (If-None-Match), they are answered
with 304 and nothing else (RFC 9110, sections 8.8.3 and 13.1.2). Since the ETag is that of the finished page, it changes
with the plan, the record, the revisions, who reads, the day and the software, whatever a page takes from them. They may
be kept by the browser alone, and are never shown before they were asked for again. All else is stored nowhere.

Text is compressed. The cookie of a session is never in a body and no page holds a token, so that the length of an
answer tells nothing that another site's page could use; what such a page has asked for is not compressed all the same.
Streams pass as they come.
"""

from __future__ import annotations

import gzip
import hashlib
import re
import zlib
from dataclasses import dataclass

from anyio import to_thread
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.http.preconditions import names_etag

KEPT_BY_THE_BROWSER = "private, no-cache"
STORED = "deflate"
"""The content coding of what is sent as the database keeps it (zlib: RFC 9110, section 8.4.1.2)."""

_COMPRESSED = ("text/", "application/json", "application/problem+json", "application/xml", "image/svg+xml")
_LEAST_BYTES = 1000
_LEVEL = 5
_LARGE = 2**20  # what is larger is compressed less, and quicker
_IN_A_THREAD = 32_768
# What is new in each answer and says nothing new: the word by which a form that is sent twice is taken once, and the
# moment at which a page was made. What is shown as of an earlier moment still holds when all else is the same.
_NEW_EACH_TIME = re.compile(
    rb'name="once" value="[0-9a-f]{32}\d*"|data-made="[^"]*"|<time data-as-of>[^<]*</time>'
)


class FreshnessMiddleware:
    """Gives pages and files their ETag, answers 304 where the browser's copy still holds, and compresses text."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] != "GET":
            await self.app(scope, receive, send)
            return
        asked = _Asked.of(Headers(scope=scope))
        held: Message | None = None  # the start of an answer whose body is not known yet

        async def send_what_is_new(message: Message) -> None:
            nonlocal held
            if message["type"] == "http.response.start" and _may_be_smaller(message):
                held = message
                return
            if held is None:
                await send(message)
                return
            start, held = held, None
            if message["type"] == "http.response.body" and not message.get("more_body", False):
                start, message = await _as_asked(start, message, asked)
            await send(start)
            await send(message)

        await self.app(scope, receive, send_what_is_new)


@dataclass(frozen=True)
class _Asked:
    """What a request says of the answer: the ETags that its browser has, and the codings that it can read."""

    known: str
    codings: frozenset[str]

    @classmethod
    def of(cls, headers: Headers) -> _Asked:
        offered = (part.partition(";") for part in headers.get("accept-encoding", "").lower().split(","))
        codings = frozenset(
            name.strip() for name, _, weight in offered if not re.fullmatch(r"\s*q=0(\.0*)?\s*", weight)
        )
        if headers.get("sec-fetch-site") == "cross-site":
            codings = frozenset()
        return cls(headers.get("if-none-match", ""), codings)

    def has(self, etag: str) -> bool:
        """Whether the browser has what the ETag names, by the weak comparison."""
        return names_etag(self.known, etag)


def _may_be_smaller(start: Message) -> bool:
    """Whether an answer is one whose body is looked at: no refusal, and no stream, whose length nobody knows.

    A stream's start goes on at once: what is noted of the answer is noted before its first line is read.
    """
    return start["status"] == 200 and "content-length" in Headers(raw=start["headers"])


async def _as_asked(start: Message, message: Message, asked: _Asked) -> tuple[Message, Message]:
    """An answer with its ETag, or 304; in a coding that the browser can read."""
    body: bytes = message.get("body", b"")
    if len(body) < _IN_A_THREAD:
        return _fresh(start, body, asked)
    return await to_thread.run_sync(_fresh, start, body, asked)


def _fresh(start: Message, body: bytes, asked: _Asked) -> tuple[Message, Message]:
    headers = MutableHeaders(raw=list(start["headers"]))
    if "etag" not in headers and _is_kept(headers):
        headers["ETag"] = _etag_of(headers, body)
        headers["Cache-Control"] = KEPT_BY_THE_BROWSER
        if asked.has(headers["ETag"]):
            for name in ("content-length", "content-type", "content-encoding", "content-disposition"):
                del headers[name]
            headers.add_vary_header("Accept-Encoding")
            return {**start, "status": 304, "headers": headers.raw}, {"type": "http.response.body"}
    coded = _coded(headers, body, asked.codings)
    headers["Content-Length"] = str(len(coded))
    return {**start, "headers": headers.raw}, {"type": "http.response.body", "body": coded}


def _is_kept(headers: Headers) -> bool:
    """Whether a browser may keep it: a page or a file, unless it says otherwise."""
    page = headers.get("content-type", "").startswith(("text/html", "image/svg+xml"))
    return "cache-control" not in headers and (page or "content-disposition" in headers)


def _etag_of(headers: Headers, body: bytes) -> str:
    """A weak one: the same for every coding of the body."""
    named = f"{headers.get('content-type')} {headers.get('content-disposition')}\n".encode()
    return f'W/"{hashlib.sha256(named + _NEW_EACH_TIME.sub(b"", body)).hexdigest()[:32]}"'


def _coded(headers: MutableHeaders, body: bytes, codings: frozenset[str]) -> bytes:
    """The body in a coding that is read at the other end, which the headers then name."""
    stored = headers.get("content-encoding") == STORED
    if not stored and ("content-encoding" in headers or len(body) < _LEAST_BYTES):
        return body
    if not headers.get("content-type", "").startswith(_COMPRESSED):
        return body
    headers.add_vary_header("Accept-Encoding")
    if stored:
        if STORED in codings:
            return body
        del headers["content-encoding"]
        body = zlib.decompress(body)
    if "gzip" not in codings:
        return body
    headers["Content-Encoding"] = "gzip"
    return gzip.compress(body, _LEVEL if len(body) < _LARGE else 1, mtime=0)
