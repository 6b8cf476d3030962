"""What a request passes before its route: its key, its role, the size of its body, and a place to be served in.

All of it stands before the first byte of the body: a stranger's body is never read, and a company's only as far as
the route takes one of that size. Pages, documents that are rendered, and uploads have places of their own, so that no
kind of work holds up another, nor one company the others.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Protocol, TypeVar, cast

from anyio import to_thread
from fastapi import Request
from fastapi.dependencies.models import Dependant
from fastapi.dependencies.utils import solve_dependencies
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException
from starlette.types import Message, Receive

from api.context import AppContext, Kind, context_of
from api.http.problem_details import Problem
from api.storage.usage import kept_bytes

SMALL_BODY_MEGABYTES = 2  # of every route but those that take files
_COUNTED_FOR_SECONDS = 30.0
STRANGERS = ""  # the company of requests to pages that need no key
_TAKES = "_admitted_as"
_Endpoint = TypeVar("_Endpoint", bound=Callable[..., Any])


class _Whose(Protocol):
    """Of a caller, whatever else is known of it."""

    @property
    def company_id(self) -> str: ...


class Body(StrEnum):
    """How large a body a route takes."""

    SMALL = "small"
    UPLOAD = "upload"  # as large as the setting `body_megabytes` says


@dataclass(frozen=True)
class _Admitted:
    kind: Kind = Kind.PAGES
    body: Body = Body.SMALL


def rendering(endpoint: _Endpoint) -> _Endpoint:
    """Marks a route that makes a document in a process of its own."""
    setattr(endpoint, _TAKES, _Admitted(Kind.RENDERING))
    return endpoint


def uploading(endpoint: _Endpoint) -> _Endpoint:
    """Marks a route that takes files: its body may be large, and is read in a process of its own."""
    setattr(endpoint, _TAKES, _Admitted(Kind.UPLOADS, Body.UPLOAD))
    return endpoint


class GuardedRoute(APIRoute):
    """A route that is reached by those who may, with a body that it takes, when there is a place."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Called by the framework when the route is made."""
        plain = super().get_route_handler()
        admitted = cast(_Admitted, getattr(self.endpoint, _TAKES, _Admitted()))
        guards = Dependant(dependencies=self.dependant.dependencies, path=self.dependant.path)

        async def handler(request: Request) -> Response:
            context = context_of(request)
            company_id = await _company_of(request, guards)
            if admitted.body == Body.UPLOAD:
                await to_thread.run_sync(_refuse_beyond_quota, context, company_id)
            most = (
                context.settings.body_megabytes
                if admitted.body == Body.UPLOAD
                else min(SMALL_BODY_MEGABYTES, context.settings.body_megabytes)
            )
            held = _Place(context, admitted.kind, company_id)
            await held.take()
            request.state.place = held
            try:
                return await plain(
                    _StrictRequest(request.scope, _limited(request, most * 2**20), request._send)
                )
            finally:
                held.leave()

        return handler


def _refuse_beyond_quota(context: AppContext, company_id: str) -> None:
    """Raises Problem 429 when a company keeps as much as one may. What it keeps is counted twice a minute at most."""
    most = context.settings.storage_megabytes
    if not most or company_id == STRANGERS:
        return
    at, kept = context.kept.get(company_id, (0.0, 0))
    if not at or time.monotonic() - at > _COUNTED_FOR_SECONDS:
        with context.storage.reading() as connection:
            kept = kept_bytes(connection, company_id)
        context.kept[company_id] = (time.monotonic(), kept)
    if kept >= most * 2**20:
        raise Problem(
            429,
            "too-many-requests",
            f"Your surveys, plans, documents and photographs take {kept / 2**20:,.0f} MB of the {most:,} MB that a"
            " company may keep. Ask the operator for more.",
            headers={"Retry-After": "3600"},
        )


class _StrictRequest(Request):
    """A request whose JSON says everything once."""

    async def json(self) -> Any:
        """The body's value. Raises HTTPException 422 where a key stands twice in one object."""
        if not hasattr(self, "_json"):
            self._json = json.loads(await self.body(), object_pairs_hook=_once)
        return self._json


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(key for place, (key, _) in enumerate(pairs) if key in dict(pairs[:place]))
        raise HTTPException(
            422, f"The key {twice[:60]} stands twice in one object of the body: keep one of them."
        )
    return found


def leave_place(request: Request) -> None:
    """Gives a request's place back early: what it does next waits in another queue."""
    place = getattr(request.state, "place", None)
    if place is not None:
        place.leave()


class _Place:
    def __init__(self, context: AppContext, kind: Kind, company_id: str) -> None:
        self._places, self._company_id, self._held = context.places[kind], company_id, False

    async def take(self) -> None:
        await self._places.acquire(self._company_id)
        self._held = True

    def leave(self) -> None:
        if self._held:
            self._held = False
            self._places.release(self._company_id)


async def _company_of(request: Request, guards: Dependant) -> str:
    """Whose request it is. Raises what the route's own dependencies raise: no key, no such role, a strange form."""
    solved = await solve_dependencies(
        request=request,
        dependant=replace(guards),
        async_exit_stack=request.scope["fastapi_inner_astack"],
        embed_body_fields=False,
    )
    if solved.errors:
        raise RequestValidationError(solved.errors)
    for found in solved.values.values():
        if hasattr(found, "company_id"):
            return cast(_Whose, found).company_id
    return STRANGERS


def _limited(request: Request, most_bytes: int) -> Receive:
    """The request's body, as far as it is not too large. Raises HTTPException 413."""
    said = request.headers.get("content-length", "")
    too_large = said.isascii() and said.isdigit() and int(said[:20]) > most_bytes
    received = 0

    async def receive() -> Message:
        nonlocal received
        if too_large:
            raise HTTPException(413)
        message = await request.receive()
        received += len(message.get("body", b""))
        if received > most_bytes:
            raise HTTPException(413)
        return message

    return receive
