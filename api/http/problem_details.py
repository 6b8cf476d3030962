"""Errors as problem details (RFC 9457): one shape for every error that the service answers.

`type` is a relative reference under /problems/; `errors` lists each fault of the input with its place and its
fix. An unexpected error names its request id and nothing of what happened inside.
"""

from __future__ import annotations

import http
import json
from collections.abc import Mapping, Sequence
from typing import Any

import structlog
from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field
from sqlalchemy.exc import DataError, DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.limited_process import LimitReached
from api.storage.trouble import UnusableDatabase
from optimiser.tables.text import counted

MEDIA_TYPE = "application/problem+json"
MOST_FAULTS = 200  # that an answer lists
BROKEN_RULES = "The plan breaks rules of its project and is not shown. Report this: the planner is at fault."


class Fault(BaseModel):
    """One fault of the input: its place (sheet, row and column, or a JSON path), the value and the fix."""

    model_config = ConfigDict(extra="allow")
    place: str
    message: str
    mend: str = ""


class ProblemDetails(BaseModel):
    """RFC 9457 problem details."""

    model_config = ConfigDict(
        extra="allow",
        json_schema_extra={
            "example": {
                "type": "/problems/not-found",
                "title": "Not found",
                "status": 404,
                "detail": "There is no plan 4f0c.",
                "instance": "/plans/4f0c",
                "request_id": "0b6b2d9ef1c44a0f",
            }
        },
    )
    type: str
    title: str
    status: int
    detail: str
    instance: str
    request_id: str = ""
    errors: list[Fault] = Field(default_factory=list)


class Problem(Exception):  # noqa: N818 (a problem is its name in the standard)
    """An error to answer. `kind` is the last part of its type, `more` further members of the document."""

    def __init__(
        self,
        status: int,
        kind: str,
        detail: str,
        *,
        headers: Mapping[str, str] | None = None,
        **more: Any,
    ) -> None:
        super().__init__(detail)
        self.status, self.kind, self.detail, self.headers, self.more = status, kind, detail, headers, more


def faulty(which: str, faults: Sequence[Mapping[str, Any]], more: int = 0, outcome: str = "") -> Problem:
    """The answer to an input with faults, at most 200 of them listed and `more` counted: 'The events have 2 faults,
    each listed with its mend', and what came of it ('none is added')."""
    count = len(faults) + more
    listed = "listed" if count == 1 else "each listed"
    detail = f"{which} {counted(count, 'fault')}, {listed} with its mend{'; ' * bool(outcome)}{outcome}."
    return Problem(
        422,
        "unusable-input",
        detail,
        errors=list(faults[:MOST_FAULTS]),
        more=more + max(0, len(faults) - MOST_FAULTS),
    )


def title_of(kind: str) -> str:
    """The title of a kind of problem: 'not-found' -> 'Not found'."""
    return kind.replace("-", " ").capitalize()


def problem_document(
    status: int, kind: str, detail: str, *, instance: str, request_id: str = "", **more: Any
) -> dict[str, Any]:
    """The members of a problem document."""
    return {
        "type": f"/problems/{kind}",
        "title": title_of(kind),
        "status": status,
        "detail": detail,
        "instance": instance,
        "request_id": request_id,
        **more,
    }


def problem_response(request: Request, problem: Problem) -> Response:
    """The answer to a request that met a problem."""
    document = problem_document(
        problem.status,
        problem.kind,
        problem.detail,
        instance=request.url.path,
        request_id=getattr(request.state, "request_id", ""),
        **problem.more,
    )
    return Response(
        json.dumps(document), status_code=problem.status, media_type=MEDIA_TYPE, headers=problem.headers
    )


_KINDS = {413: "content-too-large", 422: "unusable-input"}  # whose phrases change with Python's version
_TOO_LARGE = "The body is larger than the service accepts."


def _kind_of(status: int) -> str:
    return _KINDS.get(status) or http.HTTPStatus(status).phrase.lower().replace(" ", "-")


def problem_of(request: Request, error: Exception) -> Problem | None:
    """The problem that an expected error is, of framework, database, limits or a route; None where nobody expected it.
    What the operator must know goes into the log."""
    if isinstance(error, Problem):
        return error
    if isinstance(error, HTTPException):
        return _of_http(request, error)
    log = structlog.get_logger()
    if isinstance(error, UnusableDatabase):
        log.error("database_unusable", says=str(error))
        detail = (
            "The database, or the anchor of its issued orders, cannot be used. The operator's log says why."
        )
        return Problem(503, "database-unusable", detail, headers={"Retry-After": "60"})
    if isinstance(error, DataError):
        log.warning("refused_by_database", error=type(error).__name__)
        detail = "A text of the request has a character that is never kept (NUL), or is too long. Correct it."
        return Problem(422, "unusable-input", detail)
    if isinstance(error, LimitReached):
        log.warning("limit_reached", limit=error.limit, path=request.url.path)
        detail = f"This needs more {error.limit} than it is given: ask for less at a time, or the operator for more."
        return Problem(422, "limit-reached", detail)
    lost = isinstance(error, DBAPIError) and error.connection_invalidated
    if lost or isinstance(error, OperationalError | PoolTimeoutError):
        log.warning("database_unreachable", error=type(error).__name__)
        detail = "The database does not answer. Try again in a moment."
        return Problem(503, "database-unreachable", detail, headers={"Retry-After": "2"})
    return None


def _of_http(request: Request, error: HTTPException) -> Problem:
    detail = str(error.detail)
    if error.status_code == 404 and detail == "Not Found":
        detail = f"There is nothing at {request.url.path}."
    if error.status_code == 413:
        detail = _TOO_LARGE
    if error.status_code == 400 and "parsing the body" in detail:  # nested too deeply, or no UTF-8
        return Problem(400, "unreadable-body", "The body cannot be read as JSON.")
    if error.status_code == 405:
        detail = f"{request.method} is not served at {request.url.path}."
    return Problem(error.status_code, _kind_of(error.status_code), detail, headers=error.headers)


def _answered(request: Request, error: Exception) -> Response:
    problem = problem_of(request, error)
    if problem is None:
        raise error
    return problem_response(request, problem)


async def send_problem(send: Send, status: int, kind: str, detail: str, instance: str) -> None:
    """Answers a request that is refused before any route sees it."""
    body = json.dumps(problem_document(status, kind, detail, instance=instance)).encode()
    headers = [(b"content-type", MEDIA_TYPE.encode()), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def said_of(fault: Mapping[str, Any]) -> str:
    """What is wrong by one of pydantic's errors, without its 'Value error, '."""
    return str(fault["msg"]).removeprefix("Value error, ")


def _from_validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [Fault(place=_path(item["loc"]), message=said_of(item)).model_dump() for item in error.errors()]
    if any(item["type"] == "json_invalid" for item in error.errors()):
        return problem_response(
            request, Problem(400, "unreadable-body", "The body is not valid JSON.", errors=faults)
        )
    return problem_response(
        request,
        Problem(
            422,
            "unusable-input",
            f"{counted(len(faults), 'fault')} in the request.",
            errors=faults,
        ),
    )


def _unexpected(request: Request) -> Response:
    return problem_response(
        request,
        Problem(500, "internal-error", "Something went wrong here. Quote the request id when you report it."),
    )


def _path(location: Sequence[str | int]) -> str:
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in location).lstrip(".")


def install(app: FastAPI) -> None:
    """Makes every error of the app a problem document."""
    app.add_exception_handler(RequestValidationError, _from_validation)
    for expected in (Problem, HTTPException, UnusableDatabase, LimitReached, DBAPIError, PoolTimeoutError):
        app.add_exception_handler(expected, _answered)
    app.add_middleware(ExceptionMiddleware)


class ExceptionMiddleware:
    """Turns what a library below answers as plain text (a body that is too large), and whatever nobody
    expected, into problems."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        replaced = started = False

        async def send_problem(message: Message) -> None:
            nonlocal replaced, started
            started = True
            if message["type"] == "http.response.start" and message["status"] >= 400:
                headers = dict(message.get("headers", []))
                if headers.get(b"content-type", b"").startswith(b"text/plain"):
                    replaced = True
                    status = message["status"]
                    detail = _TOO_LARGE if status == 413 else _kind_of(status)
                    body = json.dumps(
                        problem_document(status, _kind_of(status), detail, instance=scope["path"])
                    ).encode()
                    kept = [
                        pair
                        for pair in message.get("headers", [])
                        if pair[0] not in (b"content-type", b"content-length")
                    ]
                    kept += [
                        (b"content-type", MEDIA_TYPE.encode()),
                        (b"content-length", str(len(body)).encode()),
                    ]
                    await send({**message, "headers": kept})
                    await send({"type": "http.response.body", "body": body})
                    return
            if replaced:
                return
            await send(message)

        try:
            await self.app(scope, receive, send_problem)
        except Exception as error:
            structlog.get_logger().error("unexpected_error", path=scope["path"], exc_info=error)
            if started:
                raise
            await _unexpected(Request(scope, receive))(scope, receive, send)
