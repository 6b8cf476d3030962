"""The first page, uploads, and a building's surveys and plans."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from typing import Annotated, Any, Literal

from anyio import to_thread
from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from api.accounts.access import Caller
from api.changes import changes_of_project
from api.idempotency import digest
from api.jobs.repository import jobs_of_project
from api.jobs.requests import request_job
from api.limited_process import run_limited
from api.pages.answers import STATIC, PageRoute, go_to, page, static_file
from api.pages.sheet_cells import pictures_of
from api.pages.sign_in import OWN_FORM, Planner, Reader, TheService
from api.planner import PlanOptions, ReadProject, Upload
from api.plans.at_once import keep
from api.plans.schemas import PlanSummary, summary_of
from api.problem_details import Problem
from api.projects.repository import projects_of, replace_project
from api.projects.routes import found_project
from api.service import Service
from api.uploads import read_upload, upload_of

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
            (row, newest_plan(connection, caller, row.id))
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


def newest_plan(connection: Any, caller: Caller, building_id: str, done: bool = False) -> PlanSummary | None:
    """A building's newest plan; with `done`, the newest that is done."""
    for row in jobs_of_project(connection, caller.company_id, building_id, "plan", 50 if done else 1, None):
        if not done or row.status == "done":
            return summary_of(row)
    return None


@router.post("/buildings", dependencies=OWN_FORM)
async def upload_building(request: Request, service: TheService, caller: Planner) -> Response:
    """Keeps an uploaded project and plans it; what is wrong with it is shown on a picture of its cells."""
    found = await _read_form(request, service, caller, None)
    if isinstance(found, Response):
        return found
    project, content, fields = found
    options = PlanOptions(staging=_mode(fields))

    def kept() -> str:
        once = _once(fields)
        return keep(service, caller, project, options, None, once, digest("building", repr(options), content))

    return go_to(f"/schedules/{await to_thread.run_sync(kept)}")


@router.post("/buildings/{building_id}/surveys", dependencies=OWN_FORM)
async def upload_survey(building_id: str, request: Request, service: TheService, caller: Planner) -> Response:
    """Keeps a newer survey of a building as its next version, and plans it."""

    def check() -> Any:
        with service.storage.reading() as connection:
            return found_project(connection, caller, building_id)

    row = await to_thread.run_sync(check)
    found = await _read_form(request, service, caller, row)
    if isinstance(found, Response):
        return found
    project, _, fields = found
    version = fields.get("version", "")
    if version != str(row.version):
        raise Problem(
            412,
            "changed",
            "Somebody kept a newer survey meanwhile. Look at it first, then upload yours again.",
        )

    def kept() -> str:
        with service.storage.writing() as connection:
            if not replace_project(
                connection, caller.company_id, building_id, row.version, project, caller.who
            ):
                raise Problem(412, "changed", "Somebody kept a newer survey meanwhile. Upload yours again.")
        job = request_job(
            service, caller, building_id, "plan", asdict(PlanOptions(staging=_mode(fields))), None
        )
        return str(job.id)

    return go_to(f"/schedules/{await to_thread.run_sync(kept)}")


async def _read_form(
    request: Request, service: Service, caller: Caller, building: Any
) -> tuple[ReadProject, str, dict[str, str]] | Response:
    """The project, its digest and the other fields of an upload form; or the page that says what is wrong."""
    try:
        upload, content = await upload_of(request)
    except Problem as problem:
        return _faults_page(request, service, caller, building, problem, (), "")
    form = await request.form()
    fields = {name: value for name, value in form.items() if isinstance(value, str)}
    names = ", ".join(upload.files)
    try:
        return await read_upload(upload, service.settings), content, fields
    except Problem as problem:
        faults = problem.more.get("errors", ())
        pictures = await to_thread.run_sync(_pictures, service, upload, faults) if faults else ()
        return _faults_page(request, service, caller, building, problem, pictures, names)


def _pictures(service: Service, upload: Upload, faults: list[dict[str, Any]]) -> Any:
    settings = service.settings
    return run_limited(
        pictures_of, upload, faults, seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
    )


def _faults_page(
    request: Request,
    service: Service,
    caller: Caller,
    building: Any,
    problem: Problem,
    pictures: Any,
    names: str,
) -> Response:
    return page(
        request,
        "faults.html",
        problem.status,
        caller=caller,
        building=building,
        detail=problem.detail,
        faults=problem.more.get("errors", ()),
        more=problem.more.get("more", 0),
        pictures=pictures,
        file_names=names,
        once=uuid.uuid4().hex,
        most_megabytes=service.settings.body_megabytes,
    )


def _mode(fields: dict[str, str]) -> Mode:
    for mode in ("whole", "carry", "level"):
        if fields.get("staging", "whole") == mode:
            return mode
    raise Problem(422, "unusable-input", "The staging must be whole, carry or level.")


def _once(fields: dict[str, str]) -> str | None:
    """The form's own number: sending the same form twice makes one plan."""
    once = fields.get("once", "")
    return f"page-{once}" if once.isalnum() and len(once) <= 64 else None


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
