"""The routes that comparisons, simulations and refits have alike: read, watch, cancel."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import APIRouter, Response

from api.accounts.access import Planner, Reader
from api.context import Context
from api.http.responses import json_response, problems
from api.jobs import service
from api.jobs.events import WATCH_RESPONSES, After, LastEventId, event_stream
from api.jobs.model import Job, Kind
from api.jobs.schemas import JobSummary


def add_job_routes(
    router: APIRouter,
    kind: Kind,
    kept_model: type[JobSummary],
    summary_model: type[JobSummary],
    summary_of: Callable[[Job], JobSummary],
    reading: str,
) -> None:
    """Serves the jobs of a kind at /{kind}s/{id}; `kept_model` is the summary with the member `result`."""

    def read(job_id: str, context: Context, caller: Reader) -> Response:
        row, document = service.job_with_result(context, caller, job_id, kind)
        return json_response(summary_of(row), result=document or b"null")

    def cancel(job_id: str, context: Context, caller: Planner) -> JobSummary:
        return summary_of(service.cancel_job(context, caller, job_id, kind))

    def watch(
        job_id: str,
        context: Context,
        caller: Reader,
        last_event_id: LastEventId = None,
        after: After = 0,
    ) -> Response:
        return event_stream(context, caller, job_id, kind, last_event_id, after)

    path = f"/{kind}s/{{job_id}}"
    router.add_api_route(
        path,
        read,
        methods=["GET"],
        response_model=kept_model,
        responses=problems(404),
        operation_id=f"read{kind.capitalize()}",
        summary=reading,
    )
    router.add_api_route(
        path,
        cancel,
        methods=["DELETE"],
        response_model=summary_model,
        responses=problems(404, 409),
        operation_id=f"cancel{kind.capitalize()}",
        summary="Cancel it while it is queued or running",
    )
    router.add_api_route(
        f"{path}/events",
        watch,
        methods=["GET"],
        response_class=Response,
        responses={**problems(404), **WATCH_RESPONSES},
        operation_id=f"watch{kind.capitalize()}",
        summary="Its progress as Server-Sent Events",
    )
