"""The first page, uploads, and a building's surveys and plans."""

from __future__ import annotations

import json
import uuid
from typing import Annotated, get_args

from anyio import to_thread
from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import ValidationError

from api.accounts.access import OPEN_TO_ALL
from api.admission import rendering, uploading
from api.context import Context
from api.events.service import events_page, whole_record
from api.feeds.service import find_feed
from api.http.media_types import XLSX
from api.http.problem_details import Problem
from api.http.responses import File, file_response
from api.idempotency.service import digest
from api.jobs.service import jobs_page, request_job
from api.pages.answers import (
    MODULES,
    STATIC,
    PageRoute,
    go_to,
    key_of_form,
    module_file,
    modules_version,
    page,
    static_file,
    unusable_form,
)
from api.pages.begun_plan import begun_plan
from api.pages.job_view import job_state, told_events
from api.pages.plan_source import source_of
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.pages.upload_form import FixedUpload, SentForm, read_form, read_or_faults
from api.plans.at_once import keep
from api.plans.making import PlanOptions
from api.plans.schemas import PlanRequest, summary_of
from api.plans.service import newest_plans, plan_newer_survey
from api.projects.samples import sample_upload, samples
from api.projects.service import (
    get_project,
    newest_changes_of,
    projects_page,
    survey_template,
    versions_of,
)
from api.replans.schemas import ReplanRequest
from api.replans.service import request_replan
from optimiser.model.plan import Staging
from optimiser.reading.record_file import record_from_json

router = APIRouter(route_class=PageRoute, include_in_schema=False)
_EVENTS = 25  # shown at a time
_LOG_LINES = 200
_BUILDINGS = 50  # shown at a time


@router.get("/static/{name}", dependencies=OPEN_TO_ALL)
def static(name: str) -> Response:
    """A style sheet, script or picture of the pages."""
    if name not in STATIC:
        raise Problem(404, "not-found", "There is no such file.")
    return Response(
        static_file(name),
        media_type=STATIC[name],
        headers={"Cache-Control": "public, max-age=31536000, immutable"},
    )


@router.get("/static/site/{version}/{name}", dependencies=OPEN_TO_ALL)
def module(version: str, name: str) -> Response:
    """A script of the pages at the slab edge; only the version that this service has may be kept for good."""
    if name not in MODULES:
        raise Problem(404, "not-found", "There is no such file.")
    lasting = version == modules_version()
    return Response(
        module_file(name),
        media_type="text/javascript; charset=utf-8",
        headers={"Cache-Control": "public, max-age=31536000, immutable" if lasting else "no-store"},
    )


@router.get("/")
def start(
    request: Request,
    context: Context,
    caller: Reader,
    after: Annotated[str | None, Query(max_length=40)] = None,
) -> Response:
    """Where a workbook is dropped; the newest of the buildings that are kept, or those before the one `after`."""
    projects = projects_page(context, caller, _BUILDINGS, after)
    plans = newest_plans(context, caller, [project.id for project in projects])
    rows = [(project, summary_of(plans[project.id]) if project.id in plans else None) for project in projects]
    return page(
        request,
        "start.html",
        caller=caller,
        buildings=rows,
        older=projects[-1].id if len(projects) == _BUILDINGS else None,
        newest=after is None,
        once=uuid.uuid4().hex,
        most_megabytes=context.settings.body_megabytes,
        samples=samples(),
    )


@router.post("/samples/{name}", dependencies=SAME_SITE_ONLY)
async def try_sample(
    name: str,
    request: Request,
    context: Context,
    caller: Planner,
    once: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    """Keeps an invented building that comes with the source, and plans it."""
    upload = sample_upload(name)
    read = await read_or_faults(request, context, caller, FixedUpload("/buildings"), upload, None)
    if isinstance(read, Response):
        return read
    key = key_of_form(once)
    hashed = digest("sample", name)
    plan_id = await to_thread.run_sync(keep, context, caller, read, PlanOptions(), None, key, hashed)
    return go_to(f"/schedules/{plan_id}")


@router.post("/buildings", dependencies=SAME_SITE_ONLY)
@uploading
async def upload_building(request: Request, context: Context, caller: Planner) -> Response:
    """Keeps an uploaded project and plans it; what is wrong with it is shown on a picture of its cells."""
    sent = await read_form(request, context, caller, FixedUpload("/buildings"))
    if isinstance(sent, Response):
        return sent
    options = PlanOptions(staging=_staging(sent))

    def kept() -> str:
        request_hash = digest("building", repr(options), sent.content)
        return keep(context, caller, sent.project, options, None, sent.once, request_hash)

    return go_to(f"/schedules/{await to_thread.run_sync(kept)}")


@router.post("/buildings/{building_id}/surveys", dependencies=SAME_SITE_ONLY)
@uploading
async def upload_survey(building_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """Keeps a newer survey of a building as its next version, and plans it."""
    row = await to_thread.run_sync(get_project, context, caller, building_id)
    fixed = FixedUpload(f"/buildings/{building_id}/surveys", row)
    sent = await read_form(request, context, caller, fixed)
    if isinstance(sent, Response):
        return sent
    sent.newest_is(row.version)
    plan_id = await to_thread.run_sync(
        plan_newer_survey,
        context,
        caller,
        building_id,
        row.version,
        sent.project,
        PlanOptions(staging=_staging(sent)),
    )
    return go_to(f"/schedules/{plan_id}")


def _staging(sent: SentForm) -> Staging:
    staging: Staging
    for staging in get_args(Staging):
        if sent.fields.get("staging", "whole") == staging:
            return staging
    raise Problem(422, "unusable-input", "The staging must be whole, carry or level.")


@router.get("/buildings")
@router.get("/samples/{name}")
def no_form_sent(caller: Reader, name: str = "") -> Response:
    """Where a form's faults were shown: to come back there without the form begins anew."""
    return go_to("/")


@router.get("/buildings/{building_id}/surveys")
@router.get("/buildings/{building_id}/plans")
@router.get("/buildings/{building_id}/replans")
def no_survey_sent(building_id: str, caller: Reader) -> Response:
    """Where faults of a form of a building were shown: to come back there begins anew on its page."""
    return go_to(f"/buildings/{building_id}")


@router.get("/buildings/{building_id}")
def building_page(
    building_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    after: Annotated[str | None, Query(max_length=40)] = None,
) -> Response:
    """A building's surveys and plans, where a newer survey is dropped, and how its job stands.

    `after` is the number of an event: those on record before it are listed.
    """
    row = get_project(context, caller, building_id)
    plans = [summary_of(job) for job in jobs_page(context, caller, building_id, "plan", 50)]
    newest = next((plan for plan in plans if plan.status == "done"), None)
    events = events_page(context, caller, building_id, _EVENTS, after)
    record = whole_record(context, caller, building_id) if events else "[]"
    state = None
    if events and newest is not None:
        told = record_from_json(json.loads(record))
        state = job_state(begun_plan(source_of(context, caller, newest.id), told), told)
    return page(
        request,
        "building.html",
        caller=caller,
        building=row,
        feed=find_feed(context, caller, building_id),
        plans=plans,
        newest=newest,
        job=state,
        events=told_events(events, record),
        later_events=after is not None,
        log=newest_changes_of(context, caller, building_id, _LOG_LINES),
        most_log_lines=_LOG_LINES,
        versions=versions_of(context, caller, building_id, 50),
        once=uuid.uuid4().hex,
        most_megabytes=context.settings.body_megabytes,
    )


@router.post("/buildings/{building_id}/plans", dependencies=SAME_SITE_ONLY)
def plan_building(
    building_id: str,
    context: Context,
    caller: Planner,
    staging: Annotated[Staging, Form()] = "whole",
    carry_cost: Annotated[str, Form()] = "",
    waiting_choice: Annotated[int | None, Form()] = None,
    survey: Annotated[int | None, Form()] = None,
) -> Response:
    """Plans a survey (the newest where none is named) with another staging, a price on waiting, or as a plan of the
    frontier."""
    try:
        wanted = PlanRequest(
            staging=staging, carry_cost=carry_cost.strip() or None, waiting_choice=waiting_choice
        )
    except ValidationError as error:
        raise unusable_form(error) from None
    job = request_job(context, caller, building_id, "plan", wanted.model_dump(), None, survey)
    return go_to(f"/schedules/{job.id}")


@router.post("/buildings/{building_id}/replans", dependencies=SAME_SITE_ONLY)
def plan_the_rest(
    building_id: str,
    context: Context,
    caller: Planner,
    plan_id: Annotated[str, Form(max_length=40)],
    once: Annotated[str, Form(max_length=64)] = "",
) -> Response:
    """Plans the rest of the job: from a plan of the building, its record and its newest survey."""
    key = key_of_form(once)
    job = request_replan(context, caller, plan_id, ReplanRequest(), key)
    return go_to(f"/schedules/{job.id}")


@router.get("/template.xlsx")
@rendering
def template(context: Context, caller: Reader) -> Response:
    """The empty workbook to fill in."""
    return file_response(File(survey_template(context), XLSX, "survey-template.xlsx"))
