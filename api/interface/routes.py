"""Reading of the interface in a browser: its calls to try, and what each kind of problem means.

Everything that these pages need comes from this service: the viewer (Swagger UI, Apache License 2.0) is the one that
the package `fastapi-offline` brings.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel, Field

from api.accounts.access import OPEN_TO_ALL
from api.admission import GuardedRoute
from api.http.problem_details import Problem, title_of
from api.http.problem_kinds import KINDS
from api.pages.answers import page

router = APIRouter(route_class=GuardedRoute, include_in_schema=False, dependencies=OPEN_TO_ALL)
_VIEWER = {
    "swagger-ui-bundle.js": "text/javascript; charset=utf-8",
    "swagger-ui.css": "text/css; charset=utf-8",
}
_START = b"""\
SwaggerUIBundle({url: "/openapi.json", dom_id: "#calls", deepLinking: true, validatorUrl: null})
"""


class KindOfProblem(BaseModel):
    """What a kind of problem means: its `type`, the statuses that it comes with, and how it is mended."""

    type: str = Field(examples=["/problems/not-found"])
    title: str
    statuses: list[int]
    means: str
    mend: str


@router.get("/docs")
def docs(request: Request) -> Response:
    """The calls of the interface, each to try."""
    return page(request, "docs.html")


@router.get("/docs/{name}")
def viewer(name: str) -> Response:
    """A script or style sheet of the viewer."""
    if name == "start.js":
        return Response(_START, media_type="text/javascript; charset=utf-8")
    if name not in _VIEWER:
        raise Problem(404, "not-found", "There is no such file.")
    return Response(
        _viewer_file(name), media_type=_VIEWER[name], headers={"Cache-Control": "public, max-age=86400"}
    )


@router.get("/problems")
def list_problems(request: Request) -> Response:
    """Every kind of problem."""
    return _answer(request, [_kind(name) for name in sorted(KINDS)])


@router.get("/problems/{name}")
def read_problem(request: Request, name: str) -> Response:
    """What a kind of problem means, and how it is mended: as a page for a browser, else as JSON."""
    if name not in KINDS:
        raise Problem(404, "not-found", "There is no such kind of problem: /problems lists them.")
    return _answer(request, [_kind(name)], only=True)


def _answer(request: Request, kinds: list[KindOfProblem], *, only: bool = False) -> Response:
    if "text/html" in request.headers.get("accept", ""):
        answer: Response = page(request, "problem_kinds.html", kinds=kinds)
    else:
        texts = [kind.model_dump_json() for kind in kinds]
        answer = Response(texts[0] if only else f"[{','.join(texts)}]", media_type="application/json")
    answer.headers["Vary"] = "Accept"
    return answer


def _kind(name: str) -> KindOfProblem:
    found = KINDS[name]
    return KindOfProblem(
        type=f"/problems/{name}",
        title=title_of(name),
        statuses=list(found.statuses),
        means=found.means,
        mend=found.mend,
    )


@lru_cache
def _viewer_file(name: str) -> bytes:
    return files("fastapi_offline").joinpath("static", name).read_bytes()
