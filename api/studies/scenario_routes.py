"""Scenarios side by side: asking for them, their files, planning one of them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Body, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.media_types import XLSX
from api.http.responses import BINARY, accepted, carrying, file_response, json_response, problems
from api.idempotency.service import IdempotencyKey
from api.jobs.routes import add_job_routes
from api.plans.schemas import PlanSummary
from api.plans.schemas import summary_of as plan_summary_of
from api.studies import scenario_service as service
from api.studies.scenario_schemas import (
    KeptScenarioStudy,
    ScenarioPlanRequest,
    ScenariosRequest,
    ScenarioStudySummary,
)
from api.studies.schemas import summary_of

router = APIRouter(route_class=GuardedRoute, tags=["studies"])


@router.post(
    "/projects/{project_id}/scenarios",
    operation_id="compareScenarios",
    summary="Compare any options side by side: a judged plan for each scenario",
    status_code=202,
    response_model=ScenarioStudySummary,
    responses={**problems(404, 413), 202: accepted(ScenarioStudySummary)},
)
def compare_scenarios(
    project_id: str,
    context: Context,
    caller: Planner,
    wanted: Annotated[ScenariosRequest, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """Gaps, rules, boards and brackets on offer, prices, limits of trucks and site, staging: whatever a scenario gives
    is in place of the project's own. It may give a gap or only some runs to compare; such a one cannot be planned."""
    row = service.request_scenarios(context, caller, project_id, wanted, idempotency_key)
    return json_response(summary_of(row), 202, {"Location": f"/scenarios/{row.id}", "Retry-After": "1"})


@router.get(
    "/scenarios/{job_id}/scenarios.{form}",
    operation_id="readScenariosFile",
    response_class=Response,
    responses={
        **problems(404, 409),
        200: {
            "description": "A row a scenario",
            "content": {"text/csv": BINARY, XLSX: BINARY},
            **carrying("Content-Disposition"),
        },
    },
)
@rendering
def read_scenarios_file(job_id: str, form: service.Form, context: Context, caller: Reader) -> Response:
    """The compared scenarios as CSV, or as a workbook with every warning."""
    return file_response(service.file_of_scenarios(context, caller, job_id, form))


@router.post(
    "/scenarios/{job_id}/plans",
    operation_id="planScenario",
    status_code=202,
    response_model=PlanSummary,
    responses={
        **problems(404),
        202: accepted(PlanSummary, "Planned in the background: Location is the plan's"),
    },
)
def plan_scenario(
    job_id: str,
    context: Context,
    caller: Planner,
    wanted: Annotated[ScenarioPlanRequest, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """Plans one of the compared scenarios in full, on the survey that it was compared on; the plan is kept with its
    options, and its first warning says what differs from the survey."""
    row = service.request_plan_of_scenario(context, caller, job_id, wanted.scenario, idempotency_key)
    return json_response(plan_summary_of(row), 202, {"Location": f"/plans/{row.id}", "Retry-After": "1"})


add_job_routes(
    router,
    "scenario",
    KeptScenarioStudy,
    ScenarioStudySummary,
    summary_of,
    "The status of a comparison of scenarios, and what each comes to",
)
