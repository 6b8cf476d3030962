"""What every page answers with: its template, its style sheet, and its errors as pages instead of JSON."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Coroutine
from functools import lru_cache, partial
from importlib.resources import files
from typing import Any, TypeVar
from urllib.parse import quote

import structlog
from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined
from pydantic import ValidationError

from api.accounts.roles import Role, allows
from api.accounts.service import Caller
from api.admission import GuardedRoute
from api.context import context_of
from api.http.problem_details import Problem, problem_of, said_of
from api.pages import words

View = TypeVar("View")
STATIC = {
    "sheets.css": "text/css; charset=utf-8",
    "sheets.js": "text/javascript; charset=utf-8",
    "dates.js": "text/javascript; charset=utf-8",
    "grid.js": "text/javascript; charset=utf-8",
    "tables.js": "text/javascript; charset=utf-8",
    "mark.svg": "image/svg+xml",
    "site.css": "text/css; charset=utf-8",
}
MODULES = (
    "measuring.js",
    "page.js",
    "photographs.js",
    "pieces.js",
    "receiving.js",
    "sending.js",
    "site.js",
    "store.js",
)
"""The scripts of the pages at the slab edge, which import each other; `worker.js` beside them is asked for by name."""

NEVER_KEPT = ("sign_in.html", "signed_in.html", "account.html", "log.html")
"""The pages that no browser keeps: who is signed in and where, and who did what."""


@lru_cache
def static_file(name: str) -> bytes:
    """The content of a file of STATIC."""
    return files("api.pages").joinpath("static", name).read_bytes()


def static_address(name: str) -> str:
    """Where a static file is, with its content's hash, so that browsers may keep it for good."""
    return f"/static/{name}?v={hashlib.sha256(static_file(name)).hexdigest()[:12]}"


@lru_cache
def module_file(name: str) -> bytes:
    """The content of a script of MODULES, or of the worker."""
    return files("api.pages").joinpath("static", "site", name).read_bytes()


@lru_cache
def modules_version() -> str:
    """A hash of all MODULES together: it stands in their addresses, for they import each other by name."""
    whole = hashlib.sha256(b"".join(module_file(name) for name in MODULES))
    return whole.hexdigest()[:12]


def module_address(name: str) -> str:
    """Where a script of MODULES is."""
    return f"/static/site/{modules_version()}/{name}"


@lru_cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("api.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        {
            "day": words.day,
            "short_day": words.short_day,
            "day_of_year": words.day_of_year,
            "written_day": words.written_day,
            "grouped": words.grouped,
            "amount": words.amount,
            "from_to": words.from_to,
            "moment": words.moment,
            "number": words.number,
            "metres": words.metres,
            "percent": words.percent,
            "count": words.count,
            "area": words.area,
            "kilograms": words.kilograms,
        }
    )
    environment.globals.update(
        {
            "static": static_address,
            "module": module_address,
            "staging_words": words.STAGING,
            "head": words.head,
        }
    )
    return environment


def get_ready() -> None:
    """Prepares every template, so that nobody's first page waits for it."""
    for name in _environment().list_templates(extensions=["html"]):
        _environment().get_template(name)


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A template as an answer. `values` must hold whatever it names; `may` says whether the caller's role allows what
    another does, so that nobody is shown a form that would be refused."""
    given = {"caller": None, "keys_required": context_of(request).settings.keys_required, **values}
    given["may"] = partial(_may, given["caller"])
    text = _environment().get_template(template).render(**given)
    answer = HTMLResponse(text, status_code=status)
    if template in NEVER_KEPT:
        answer.headers["Cache-Control"] = "no-store"
    return answer


def _may(caller: Caller | None, role: Role) -> bool:
    return caller is not None and allows(caller.role, role)


def or_404(view: Callable[..., View], *arguments: Any) -> View:
    """What a view model makes; what it has not is answered as not found. Raises Problem 404."""
    try:
        return view(*arguments)
    except IndexError as error:
        raise Problem(404, "not-found", str(error)) from None


def key_of_form(once: str) -> str | None:
    """A form's own number as an Idempotency-Key: sending the same form twice makes one thing. None for what is none."""
    return f"page-{once}" if once.isalnum() and len(once) <= 64 else None


def unusable_form(error: ValidationError) -> Problem:
    """The answer to a form whose values cannot be used."""
    return Problem(422, "unusable-input", "; ".join(said_of(fault) for fault in error.errors()) + ".")


def go_to(address: str) -> RedirectResponse:
    """Sends the browser there with a GET, so that reloading repeats no form."""
    return RedirectResponse(address, status_code=303)


class PageRoute(GuardedRoute):
    """A route whose errors are pages that people can read, and that sends those without a key to sign in."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        plain = super().get_route_handler()

        async def handler(request: Request) -> Response:
            try:
                return await plain(request)
            except RequestValidationError as error:
                what = "; ".join(f"{item['loc'][-1]}: {said_of(item)}" for item in error.errors())
                return _error(request, 422, f"This cannot be used: {what}.")
            except Exception as error:
                problem = problem_of(request, error)
                if problem is None:
                    structlog.get_logger().error("unexpected_error", path=request.url.path, exc_info=error)
                    return _error(request, 500, "Something went wrong here. Nothing you sent was half kept.")
                if problem.status == 401:
                    return go_to(f"/sign-in?next={quote(request.url.path)}")
                return _error(request, problem.status, problem.detail, problem.headers, problem.more)

        return handler


def _error(
    request: Request, status: int, detail: str, headers: Any = None, more: dict[str, Any] | None = None
) -> Response:
    answer = page(
        request,
        "error.html",
        status,
        problem_status=status,
        detail=detail,
        rules=(more or {}).get("broken_rules", ()),
        request_id=getattr(request.state, "request_id", ""),
    )
    answer.headers.update(dict(headers or {}))
    return answer
