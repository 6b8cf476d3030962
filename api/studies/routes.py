"""Comparing gap sizes and simulating tolerances, in the background."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, Header, Query, Response

from api.accounts.access import Planner, Reader
from api.idempotency import IdempotencyKey
from api.jobs.events import WATCH_RESPONSES, events_response
from api.jobs.repository import Kind, result_of
from api.jobs.requests import cancel_requested_job, found_job, request_job
from api.projects.routes import TheService
from api.responses import json_response, problems
from api.studies.schemas import AllowanceRequest, ComparisonRequest, KeptStudy, StudySummary, summary_of

router = APIRouter(tags=["studies"])


def _routes_of(kind: Kind, path: str, wanted_model: type[Any], asking: str, reading: str) -> None:
    """The four routes of a kind of study: ask, read, watch, cancel."""

    def create(
        project_id: str,
        service: TheService,
        caller: Planner,
        wanted: Annotated[Any, Body()],
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        row = request_job(service, caller, project_id, kind, wanted.model_dump(), idempotency_key)
        return json_response(summary_of(row), 202, {"Location": f"/{path}/{row.id}", "Retry-After": "1"})

    def read(study_id: str, service: TheService, caller: Reader) -> Response:
        with service.storage.reading() as connection:
            row = found_job(connection, caller, study_id, kind)
            document = result_of(connection, study_id)
        return json_response(summary_of(row), result=document or b"null")

    def cancel(study_id: str, service: TheService, caller: Planner) -> StudySummary:
        return summary_of(cancel_requested_job(service, caller, study_id, kind))

    def watch(
        study_id: str,
        service: TheService,
        caller: Reader,
        last_event_id: Annotated[int | None, Header(ge=0, le=2**31 - 1)] = None,
        after: Annotated[int, Query(ge=0, le=2**31 - 1, description="As Last-Event-ID.")] = 0,
    ) -> Response:
        with service.storage.reading() as connection:
            found_job(connection, caller, study_id, kind)
        return events_response(service, study_id, after if last_event_id is None else last_event_id)

    create.__annotations__["wanted"] = wanted_model
    accepted = {"description": "Made in the background: Location says where", "model": StudySummary}
    router.add_api_route(
        f"/projects/{{project_id}}/{path}",
        create,
        methods=["POST"],
        status_code=202,
        response_model=StudySummary,
        responses={**problems(404, 413), 202: accepted},
        operation_id=f"create_{kind}",
        summary=asking,
    )
    router.add_api_route(
        f"/{path}/{{study_id}}",
        read,
        methods=["GET"],
        response_model=KeptStudy,
        responses=problems(404),
        operation_id=f"read_{kind}",
        summary=reading,
    )
    router.add_api_route(
        f"/{path}/{{study_id}}",
        cancel,
        methods=["DELETE"],
        response_model=StudySummary,
        responses=problems(404, 409),
        operation_id=f"cancel_{kind}",
        summary="Cancel it while it is queued or running",
    )
    router.add_api_route(
        f"/{path}/{{study_id}}/events",
        watch,
        methods=["GET"],
        response_class=Response,
        responses={**problems(404), **WATCH_RESPONSES},
        operation_id=f"watch_{kind}",
        summary="Its progress as Server-Sent Events",
    )


_routes_of(
    "comparison",
    "comparisons",
    ComparisonRequest,
    "Compare gap sizes: boards, waste, cost and joints at each",
    "A comparison's status, and what it found",
)
_routes_of(
    "allowance",
    "allowances",
    AllowanceRequest,
    "Simulate the tolerances of nominal gaps: how much to order",
    "A simulation's status, and what it found",
)
