"""The first page, uploads, and a building's surveys and plans."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from typing import Annotated, Any, Literal

import sqlalchemy as sa
from anyio import to_thread
from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from api.accounts.access import Caller
from api.changes import changes_of_project
from api.idempotency import digest
from api.jobs.repository import jobs_of_project
from api.jobs.requests import add_requested_job, request_job
from api.limited_process import run_limited
from api.pages.answers import STATIC, PageRoute, go_to, page, static_file
from api.pages.sign_in import OWN_FORM, Planner, Reader
from api.pages.upload_form import Again, SentForm, read_form
from api.planner import PlanOptions
from api.plans.at_once import keep
from api.plans.schemas import PlanSummary, summary_of
from api.problem_details import Problem
from api.projects.repository import projects_of, replace_project
from api.projects.routes import changed, found_project
from api.service import TheService

router = APIRouter(route_class=PageRoute, include_in_schema=False)
Mode = Literal["whole", "carry", "level"]


@router.get("/static/{name}")
def static(name: str) -> Response:
    """A style sheet, script or picture of the pages."""
    if name not in STATIC:
        raise Problem(404, "not-found", "There is no such file.")
    return Response(
        static_file(name),
        media_type=STATIC[name],
        headers={"Cache-Control": "public, max-age=31536000, immutable"},
    )


@router.get("/")
def start(request: Request, service: TheService, caller: Reader) -> Response:
    """Where a workbook is dropped; the buildings that are kept."""
    with service.storage.reading() as connection:
        rows = [
            (row, _newest_plan(connection, caller, row.id))
            for row in projects_of(connection, caller.company_id, 50, None)
        ]
    return page(
        request,
        "start.html",
        caller=caller,
        buildings=rows,
        once=uuid.uuid4().hex,
        most_megabytes=service.settings.body_megabytes,
    )


def _newest_plan(connection: sa.Connection, caller: Caller, building_id: str) -> PlanSummary | None:
    rows = jobs_of_project(connection, caller.company_id, building_id, "plan", 1, None)
    return summary_of(rows[0]) if rows else None


@router.post("/buildings", dependencies=OWN_FORM)
async def upload_building(request: Request, service: TheService, caller: Planner) -> Response:
    """Keeps an uploaded project and plans it; what is wrong with it is shown on a picture of its cells."""
    sent = await read_form(request, service, caller, Again("/buildings"))
    if isinstance(sent, Response):
        return sent
    options = PlanOptions(staging=_mode(sent))

    def kept() -> str:
        request_hash = digest("building", repr(options), sent.content)
        return keep(service, caller, sent.project, options, None, sent.once, request_hash)

    return go_to(f"/schedules/{await to_thread.run_sync(kept)}")


@router.post("/buildings/{building_id}/surveys", dependencies=OWN_FORM)
async def upload_survey(building_id: str, request: Request, service: TheService, caller: Planner) -> Response:
    """Keeps a newer survey of a building as its next version, and plans it."""

    def check() -> Any:
        with service.storage.reading() as connection:
            return found_project(connection, caller, building_id)

    row = await to_thread.run_sync(check)
    sent = await read_form(request, service, caller, Again(f"/buildings/{building_id}/surveys", row))
    if isinstance(sent, Response):
        return sent
    sent.newest_is(row.version)
    options, plan_id = asdict(PlanOptions(staging=_mode(sent))), uuid.uuid4().hex

    def keep_and_plan() -> None:
        with service.storage.writing() as connection:
            if not replace_project(
                connection, caller.company_id, building_id, row.version, sent.project, caller.who
            ):
                raise changed(building_id)
            add_requested_job(
                connection, service, caller, plan_id, building_id, row.version + 1, "plan", options
            )

    await to_thread.run_sync(keep_and_plan)
    return go_to(f"/schedules/{plan_id}")


def _mode(sent: SentForm) -> Mode:
    for mode in ("whole", "carry", "level"):
        if sent.fields.get("staging", "whole") == mode:
            return mode
    raise Problem(422, "unusable-input", "The staging must be whole, carry or level.")


@router.get("/buildings/{building_id}")
def building_page(building_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """A building's surveys and plans, and where a newer survey is dropped."""
    with service.storage.reading() as connection:
        row = found_project(connection, caller, building_id)
        plans = [
            summary_of(job)
            for job in jobs_of_project(connection, caller.company_id, building_id, "plan", 50, None)
        ]
        log = changes_of_project(connection, caller.company_id, building_id, 200, 0)
    return page(
        request,
        "building.html",
        caller=caller,
        building=row,
        plans=plans,
        refitted=next((plan for plan in plans if plan.status == "done"), None),
        log=log[::-1],
        once=uuid.uuid4().hex,
        most_megabytes=service.settings.body_megabytes,
    )


@router.post("/buildings/{building_id}/plans", dependencies=OWN_FORM)
def plan_building(
    building_id: str,
    service: TheService,
    caller: Planner,
    staging: Annotated[Mode, Form()] = "whole",
) -> Response:
    """Plans the newest survey with another staging."""
    job = request_job(service, caller, building_id, "plan", asdict(PlanOptions(staging=staging)), None)
    return go_to(f"/schedules/{job.id}")


@router.get("/template.xlsx")
def template(service: TheService, caller: Reader) -> Response:
    """The empty workbook to fill in."""
    content: bytes = run_limited(_template, seconds=30, megabytes=service.settings.parse_megabytes)
    return Response(
        content,
        media_type="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        headers={"Content-Disposition": 'attachment; filename="survey-template.xlsx"'},
    )


def _template() -> bytes:
    import tempfile
    from pathlib import Path

    from optimiser.writing.template import write_template

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "survey-template.xlsx"
        write_template(path)
        return path.read_bytes()
