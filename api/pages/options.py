"""The estimator's sheet: where the board goes, what each staging costs, which gap wastes least, what to allow."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import ValidationError

from api.accounts.access import Caller
from api.jobs.events import LastEventId, watched_job
from api.jobs.repository import Kind, jobs_of_project, result_of
from api.jobs.requests import cancel_unless_ended, found_job, request_job
from api.pages.answers import PageRoute, go_to
from api.pages.charts import mode_bars, waste_bar
from api.pages.schedules import sheet_of, sheet_page
from api.pages.sign_in import OWN_FORM, Planner, Reader
from api.pages.studies_view import gap_options, simulated
from api.plans.schemas import summary_of as plan_summary
from api.problem_details import Problem
from api.service import Service, TheService
from api.studies.schemas import AllowanceRequest, ComparisonRequest, StudySummary
from api.studies.schemas import summary_of as study_summary
from optimiser.plan import Plan

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)
MODES = ("whole", "carry", "level")
StudyKind = Literal["comparison", "allowance"]


@dataclass(frozen=True)
class Study:
    """The newest comparison or simulation of a building; `result` once it is done."""

    summary: StudySummary
    result: dict[str, Any] | None


@router.get("/options")
def options_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """Waste, staging modes, gap options and the computed allowance."""
    sheet = sheet_of(service, caller, plan_id, "options")
    building, survey = sheet.job.project_id, sheet.job.project_version
    modes = _modes(service, caller, building, survey)
    comparison = _newest(service, caller, building, "comparison")
    allowance = _newest(service, caller, building, "allowance")
    gaps = [gap.gap_mm for gap in sheet.plan.project.gaps]
    middle = sorted(gaps)[len(gaps) // 2]
    return sheet_page(
        request,
        "options.html",
        caller,
        sheet,
        bar=waste_bar(sheet.plan.waste),
        modes=mode_bars(modes),
        missing_modes=[mode for mode in MODES if mode not in {found.staging for _, found in modes}],
        comparison=comparison,
        gaps=gap_options(comparison.result) if comparison and comparison.result else None,
        allowance=allowance,
        simulated=simulated(allowance.result) if allowance and allowance.result else None,
        suggested=(max(5, middle - 20) // 5 * 5, (middle + 20) // 5 * 5),
        gap_range=(min(gaps), max(gaps)),
        nominal=any(gap.basis == "nominal" for gap in sheet.plan.project.gaps),
    )


def _modes(service: Service, caller: Caller, building_id: str, survey: int) -> list[tuple[str, Plan]]:
    """The newest finished plan of each staging mode on a survey with its id, in the modes' order."""
    ids: dict[str, str] = {}
    with service.storage.reading() as connection:
        for row in jobs_of_project(connection, caller.company_id, building_id, "plan", 200, None):
            if row.status == "done" and row.project_version == survey:
                ids.setdefault(plan_summary(row).request.staging, row.id)
        found = [(ids[mode], result_of(connection, ids[mode])) for mode in MODES if mode in ids]
    return [(plan_id, Plan.model_validate_json(document)) for plan_id, document in found if document]


def _newest(service: Service, caller: Caller, building_id: str, kind: Kind) -> Study | None:
    with service.storage.reading() as connection:
        rows = jobs_of_project(connection, caller.company_id, building_id, kind, 1, None)
        if not rows:
            return None
        document = result_of(connection, rows[0].id) if rows[0].status == "done" else None
    return Study(study_summary(rows[0]), json.loads(document) if document else None)


@router.post("/comparisons", dependencies=OWN_FORM)
def compare_gaps(
    plan_id: str,
    service: TheService,
    caller: Planner,
    from_mm: Annotated[int, Form()],
    to_mm: Annotated[int, Form()],
    step_mm: Annotated[int, Form()] = 5,
) -> Response:
    """Compares gap sizes in the background."""
    try:
        wanted = ComparisonRequest(from_mm=from_mm, to_mm=to_mm, step_mm=step_mm)
    except ValidationError as error:
        raise _unusable(error) from None
    return _asked(service, caller, plan_id, "comparison", wanted.model_dump())


@router.post("/allowances", dependencies=OWN_FORM)
def simulate(
    plan_id: str,
    service: TheService,
    caller: Planner,
    draws: Annotated[int, Form()] = 200,
    service_level: Annotated[int, Form(ge=50, le=100)] = 95,
) -> Response:
    """Simulates the tolerances of nominal gaps in the background."""
    try:
        wanted = AllowanceRequest(draws=draws, service_level=service_level / 100)
    except ValidationError as error:
        raise _unusable(error) from None
    return _asked(service, caller, plan_id, "allowance", wanted.model_dump())


def _asked(
    service: Service, caller: Caller, plan_id: str, kind: Kind, parameters: dict[str, Any]
) -> Response:
    with service.storage.reading() as connection:
        building = found_job(connection, caller, plan_id, "plan").project_id
    request_job(service, caller, building, kind, parameters, None)
    return go_to(f"/schedules/{plan_id}/options#{kind}")


def _unusable(error: ValidationError) -> Problem:
    return Problem(422, "unusable-input", "; ".join(item["msg"] for item in error.errors()) + ".")


@router.post("/{kind}s/{study_id}/cancel", dependencies=OWN_FORM)
def cancel_study(
    plan_id: str, kind: StudyKind, study_id: str, service: TheService, caller: Planner
) -> Response:
    """Cancels a comparison or simulation."""
    cancel_unless_ended(service, caller, study_id, kind)
    return go_to(f"/schedules/{plan_id}/options#{kind}")


@router.get("/{kind}s/{study_id}/events")
def study_events(
    plan_id: str,
    kind: StudyKind,
    study_id: str,
    service: TheService,
    caller: Reader,
    last_event_id: LastEventId = None,
) -> Response:
    """A comparison's or simulation's progress as Server-Sent Events."""
    return watched_job(service, caller, study_id, kind, last_event_id)
