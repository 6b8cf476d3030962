"""Comparing gap sizes, simulating tolerances and weighing boards against waiting, in the background."""

from __future__ import annotations

from typing import Annotated, Any, get_args

from fastapi import APIRouter, Body, Query, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute
from api.context import Context
from api.http.paging import After, Limit, Page, Since, moment_since, page_of
from api.http.responses import accepted, json_response, problems
from api.idempotency.service import IdempotencyKey
from api.jobs.routes import add_job_routes
from api.jobs.schemas import OfStatus
from api.jobs.service import jobs_page
from api.studies import service
from api.studies.schemas import (
    AllowanceRequest,
    ComparisonRequest,
    FrontierRequest,
    KeptStudy,
    StudySummary,
    summary_of,
)
from api.studies.service import AnyStudy, StudyKind

router = APIRouter(route_class=GuardedRoute, tags=["studies"])


def _routes_of(kind: StudyKind, asked_as: str, wanted_model: type[Any], asking: str, reading: str) -> None:
    """The routes of a kind of study: ask for it, `asked_as` in OpenAPI, and those of every job."""

    def create(
        project_id: str,
        context: Context,
        caller: Planner,
        wanted: Annotated[Any, Body()],
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        row = service.request_study(context, caller, project_id, kind, wanted, idempotency_key)
        return json_response(summary_of(row), 202, {"Location": f"/{kind}s/{row.id}", "Retry-After": "1"})

    create.__annotations__["wanted"] = wanted_model
    router.add_api_route(
        f"/projects/{{project_id}}/{kind}s",
        create,
        methods=["POST"],
        status_code=202,
        response_model=StudySummary,
        responses={**problems(404, 413), 202: accepted(StudySummary)},
        operation_id=asked_as,
        summary=asking,
    )
    add_job_routes(router, kind, KeptStudy, StudySummary, summary_of, reading)


@router.get(
    "/projects/{project_id}/studies",
    operation_id="listStudies",
    response_model=Page[StudySummary],
    responses=problems(404),
)
def list_studies(
    project_id: str,
    context: Context,
    caller: Reader,
    limit: Limit = 50,
    after: After = None,
    kind: Annotated[AnyStudy | None, Query(description="Only those of this kind.")] = None,
    status: OfStatus = None,
    since: Since = None,
) -> Page[StudySummary]:
    """The project's comparisons, simulations, frontiers and scenarios, newest first."""
    kinds = (*get_args(StudyKind), "scenario") if kind is None else (kind,)
    rows = jobs_page(
        context, caller, project_id, kinds, limit, after, status=status, since=moment_since(since)
    )
    items = [summary_of(row) for row in rows]
    return page_of(items, limit, items[-1].id if items else "")


_routes_of(
    "comparison",
    "compareGaps",
    ComparisonRequest,
    "Compare gap sizes: boards, waste, cost and joints at each",
    "A comparison's status, and what it found",
)
_routes_of(
    "allowance",
    "simulateAllowance",
    AllowanceRequest,
    "Simulate the tolerances of nominal gaps: how much to order",
    "A simulation's status, and what it found",
)
_routes_of(
    "frontier",
    "weighBoardsAgainstWaiting",
    FrontierRequest,
    "Boards against waiting: plans from 'nothing waits' to the fewest boards, each with its bounds",
    "A frontier's status, and its plans; a plan request takes one as `waiting_choice`",
)
