"""A finished plan as files: the order in every form, cutting sheets, labels and drawings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Response

from api.accounts.access import Caller, Reader
from api.jobs.requests import finished_job
from api.limited_process import run_limited
from api.orders.repository import issued_from
from api.planner import FORMS
from api.plans.documents import (
    Paper,
    Printing,
    cutting_sheets,
    elevation_svg,
    labels,
    layout_svg,
    order_as,
)
from api.problem_details import Problem
from api.responses import problems
from api.service import Service, TheService
from optimiser.plan import Plan

router = APIRouter(prefix="/plans/{plan_id}", tags=["plans"])
Form = Literal["json", "csv", "xlsx", "pdf", "xml"]
PaperSize = Annotated[Paper, Query(description="The paper that it is printed on.")]
Levels = Annotated[
    list[Annotated[str, Query(max_length=200)]] | None,
    Query(alias="level", max_length=1000, description="Only these levels; left out: all."),
]
_RENDER_SECONDS = 60


def _answers(what: str, *media_types: str) -> dict[int | str, dict[str, Any]]:
    content: dict[str, Any] = {media_type.partition(";")[0]: {} for media_type in media_types}
    return {**problems(404, 409), 200: {"description": what, "content": content}}


@router.get("/plan.json", response_model=Plan, responses=problems(404, 409))
def read_plan_json(plan_id: str, service: TheService, caller: Reader) -> Response:
    """The whole plan as the command line's plan.json."""
    document, _ = _finished(service, caller, plan_id)
    return _file(document.encode(), "application/json", f"plan-{plan_id[:8]}.json")


@router.get(
    "/order.{form}",
    response_class=Response,
    responses=_answers("The order in this form", *FORMS.values()),
)
def read_order(
    plan_id: str, form: Form, service: TheService, caller: Reader, paper: PaperSize = "A4"
) -> Response:
    """The order as JSON, CSV, workbook, PDF or UBL. An issued one carries its revision and its date."""
    document, printing = _finished(service, caller, plan_id, paper)
    try:
        made = _rendered(service, order_as, document, form, printing)
    except ValueError as error:
        raise Problem(409, "nothing-ordered", f"{error}.") from None
    return _file(made, FORMS[form], f"order-{plan_id[:8]}.{form}")


@router.get(
    "/cutting-sheets.pdf",
    response_class=Response,
    responses=_answers("Sheets for the crew", "application/pdf"),
)
def read_cutting_sheets(
    plan_id: str,
    service: TheService,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
) -> Response:
    """The sheets that the crew cuts and fits from."""
    return _printed(service, caller, plan_id, cutting_sheets, "cutting-sheets", paper, levels)


@router.get("/labels.pdf", response_class=Response, responses=_answers("Labels", "application/pdf"))
def read_labels(
    plan_id: str,
    service: TheService,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
) -> Response:
    """Labels to stick on the pieces in the order in which they are cut, with their ids as QR codes."""
    return _printed(service, caller, plan_id, labels, "labels", paper, levels)


@router.get(
    "/layouts/{number}.svg",
    response_class=Response,
    responses=_answers("How one board is cut, to scale", "image/svg+xml"),
)
def read_layout(
    plan_id: str,
    number: Annotated[int, Path(ge=1, le=10**6, description="Counts the plan's layouts from 1.")],
    service: TheService,
    caller: Reader,
) -> Response:
    """A cutting layout as a drawing."""
    document, _ = _finished(service, caller, plan_id)
    try:
        drawn = _rendered(service, layout_svg, document, number)
    except IndexError:
        raise Problem(404, "not-found", f"Plan {plan_id} has no layout {number}.") from None
    return Response(drawn, media_type="image/svg+xml")


@router.get(
    "/elevations/{run:path}.svg",
    response_class=Response,
    responses=_answers("A run with its pieces, joints and brackets, to scale", "image/svg+xml"),
)
def read_elevation(
    plan_id: str,
    run: Annotated[str, Path(max_length=200, description="The run's name.")],
    service: TheService,
    caller: Reader,
) -> Response:
    """A run as a drawing, as it is fitted."""
    document, _ = _finished(service, caller, plan_id)
    try:
        drawn = _rendered(service, elevation_svg, document, run)
    except KeyError:
        raise Problem(404, "not-found", f"Plan {plan_id} has no run {run[:40]}.") from None
    return Response(drawn, media_type="image/svg+xml")


def _finished(service: Service, caller: Caller, plan_id: str, paper: Paper = "A4") -> tuple[str, Printing]:
    """A plan as JSON text, and how its documents are printed: with its revision where it is issued."""
    with service.storage.reading() as connection:
        _, document = finished_job(connection, caller, plan_id, "plan")
        issued = issued_from(connection, caller.company_id, plan_id)
    if issued is None:
        return document.decode(), Printing(paper)
    issued_on = date.fromisoformat(issued["issued_at"][:10])
    return document.decode(), Printing(paper, str(issued["revision"]), issued_on)


def _printed(
    service: Service,
    caller: Caller,
    plan_id: str,
    work: Callable[[str, Printing], bytes],
    name: str,
    paper: Paper,
    levels: list[str] | None,
) -> Response:
    document, printing = _finished(service, caller, plan_id, paper)
    chosen = Printing(paper, printing.revision, printing.issued_on, tuple(levels) if levels else None)
    try:
        made = _rendered(service, work, document, chosen)
    except ValueError as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    return _file(made, "application/pdf", f"{name}-{plan_id[:8]}.pdf")


def _rendered(service: Service, work: Callable[..., bytes], *arguments: Any) -> bytes:
    made: bytes = run_limited(
        work, *arguments, seconds=_RENDER_SECONDS, megabytes=service.settings.job_megabytes
    )
    return made


def _file(content: bytes, media_type: str, name: str) -> Response:
    return Response(
        content, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
