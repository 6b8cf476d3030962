"""Scenarios of a building: any options side by side on a survey, drawn, exported, and planned in full."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import rendering, uploading
from api.context import AppContext, Context
from api.http.problem_details import Problem
from api.http.responses import file_response
from api.jobs.events import LastEventId, event_stream
from api.jobs.service import cancel_unless_ended
from api.pages.answers import PageRoute, go_to, key_of_form, page
from api.pages.offer_files import fields_and_files, kept_text, offers_of
from api.pages.scenario_fields import GROUPS, choices_of, project_has
from api.pages.scenario_form import (
    MOST_ROWS,
    ScenarioForm,
    first_form,
    form_of,
    form_of_request,
)
from api.pages.scenarios_view import scenarios_view
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.projects.reading import kept_project
from api.projects.service import get_project, version_document, versions_of
from api.studies import scenario_service as service
from api.studies.schemas import summary_of
from optimiser.studies.scenarios import MOST_SCENARIOS

router = APIRouter(
    prefix="/buildings/{building_id}/scenarios", route_class=PageRoute, include_in_schema=False
)


@router.get("")
def scenarios_page(
    building_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    survey: Annotated[int | None, Query(ge=1, le=10**6)] = None,
    study: Annotated[str | None, Query(max_length=40)] = None,
) -> Response:
    """The form, and what was compared: the newest comparison of the building, or the one that is named."""
    return _page(request, context, caller, building_id, survey, study)


@router.post("", dependencies=SAME_SITE_ONLY)
@uploading
async def change_or_compare(
    building_id: str, request: Request, context: Context, caller: Planner
) -> Response:
    """Adds, copies or removes a row and shows the form again; or compares its scenarios in the background. A form that
    cannot be used is shown again as it was sent, with its faults."""
    fields, files = await fields_and_files(request)
    return await to_thread.run_sync(_answered, building_id, request, context, caller, fields, files)


def _answered(
    building_id: str,
    request: Request,
    context: AppContext,
    caller: Caller,
    fields: dict[str, str],
    files: dict[str, bytes],
) -> Response:
    newest = get_project(context, caller, building_id).version
    offers, faults = offers_of(context, fields, files)
    form = form_of(fields, offers, newest)
    do = fields.get("do", "compare")
    if do != "compare":
        form, at = form.changed(do)
        return _page(request, context, caller, building_id, form=form, at=at, faults=faults)
    wanted, form = form.asked()
    if wanted is not None and not faults:
        key = key_of_form(fields.get("once", ""))
        try:
            job = service.request_scenarios(context, caller, building_id, wanted, key)
        except Problem as problem:
            if problem.status != 422 or not problem.more.get("errors"):
                raise
            faults = [fault["message"] for fault in problem.more["errors"]]
        else:
            return go_to(f"/buildings/{building_id}/scenarios?study={job.id}#results")
    return _page(request, context, caller, building_id, form=form, faults=faults, status=422)


def _page(
    request: Request,
    context: AppContext,
    caller: Caller,
    building_id: str,
    survey: int | None = None,
    study: str | None = None,
    *,
    form: ScenarioForm | None = None,
    at: int = 0,
    faults: Sequence[str] = (),
    status: int = 200,
) -> Response:
    building = get_project(context, caller, building_id)
    found = (
        service.scenario_study(context, caller, study)
        if study is not None
        else service.newest_scenarios(context, caller, building_id)
    )
    if found is not None and found.job.project_id != building_id:
        raise Problem(404, "not-found", "This building has no such comparison.")
    sent = form is not None
    if form is None:
        pinned = survey or (found.job.project_version if found and study else building.version)
        form = first_form(pinned) if found is None else form_of_request(found.asked, pinned)
    surveyed = kept_project(
        version_document(context, caller, building_id, min(form.survey, building.version)).decode()
    )
    return page(
        request,
        "scenarios.html",
        status,
        caller=caller,
        building=building,
        versions=versions_of(context, caller, building_id, 200),
        form=form,
        kept_offers=kept_text(form.offers),
        faults=(*form.all_faults, *faults),
        at=at,
        sent=sent,
        groups=GROUPS,
        choices_of=choices_of,
        has=project_has(surveyed),
        currency=surveyed.project.currency,
        most_rows=MOST_ROWS,
        most_scenarios=MOST_SCENARIOS,
        once=uuid.uuid4().hex,
        study=found and summary_of(found.job),
        view=found and scenarios_view(found, building.name),
        compared_currency=found.found.currency if found and found.found else "",
    )


@router.get("/{study_id}/scenarios.{form}")
@rendering
def file(building_id: str, study_id: str, form: service.Form, context: Context, caller: Reader) -> Response:
    """The compared scenarios as csv or as a workbook."""
    return file_response(service.file_of_scenarios(context, caller, study_id, form))


@router.post("/{study_id}/plans", dependencies=SAME_SITE_ONLY)
def plan_this(
    building_id: str,
    study_id: str,
    context: Context,
    caller: Planner,
    scenario: Annotated[str, Form(max_length=60)],
) -> Response:
    """Plans one of the compared scenarios in full."""
    job = service.request_plan_of_scenario(context, caller, study_id, scenario, None)
    return go_to(f"/schedules/{job.id}")


@router.get("/{study_id}/plans")
def nothing_planned(building_id: str, study_id: str, caller: Reader) -> Response:
    """Where a refusal to plan was shown: to come back there shows the comparison."""
    return go_to(f"/buildings/{building_id}/scenarios?study={study_id}")


@router.post("/{study_id}/cancel", dependencies=SAME_SITE_ONLY)
def cancel(building_id: str, study_id: str, context: Context, caller: Planner) -> Response:
    """Cancels a comparison."""
    cancel_unless_ended(context, caller, study_id, "scenario")
    return go_to(f"/buildings/{building_id}/scenarios#results")


@router.get("/{study_id}/events")
def events(
    building_id: str,
    study_id: str,
    context: Context,
    caller: Reader,
    last_event_id: LastEventId = None,
) -> Response:
    """A comparison's progress as Server-Sent Events."""
    return event_stream(context, caller, study_id, "scenario", last_event_id)
