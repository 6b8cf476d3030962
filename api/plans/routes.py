"""Planning at once and in the background, watching and cancelling."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Body, Header, Query, Request, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, leave_place, uploading
from api.context import Context
from api.http.paging import After, Limit, Page, Since, moment_since, page_of
from api.http.problem_details import Problem
from api.http.responses import accepted, carrying, json_response, problems
from api.idempotency.service import IdempotencyKey, digest
from api.jobs import service as jobs
from api.jobs.events import WATCH_RESPONSES, LastEventId, event_stream
from api.jobs.events import After as AfterEvent
from api.jobs.model import Job
from api.jobs.schemas import OfStatus
from api.plans import service
from api.plans.at_once import schedule
from api.plans.files import finished_plan
from api.plans.making import PlanOptions
from api.plans.schemas import KeptPlan, PlanRequest, PlanSummary, summary_of
from api.projects.uploads import BODY, upload_of
from optimiser.model.plan import Plan, Staging

router = APIRouter(route_class=GuardedRoute, tags=["plans"])
_ACCEPTED = accepted(PlanSummary, "Planned in the background: Location says where")


@router.post(
    "/order-schedules",
    operation_id="planAtOnce",
    response_model=Plan,
    responses={
        **problems(413, 415),
        200: {
            "description": "The plan; Content-Location is where it is kept",
            **carrying("Location", "Content-Location"),
        },
        202: _ACCEPTED,
    },
    openapi_extra=BODY,
)
@uploading
async def create_order_schedule(
    request: Request,
    context: Context,
    caller: Planner,
    staging: Annotated[Staging, Query()] = "whole",
    time_limit: Annotated[float | None, Query(gt=0, le=600, description="Seconds for the solver.")] = None,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    prefer: Annotated[
        str | None, Header(max_length=200, description="'respond-async' plans in the background (RFC 7240).")
    ] = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """A project in, its plan out: at once when it is small, else 202 and where to find it."""
    upload, content = await upload_of(request)
    options = PlanOptions(staging=staging, time_limit=time_limit, seed=seed)
    request_hash = digest("order schedule", repr(options), content)
    plan_id = await to_thread.run_sync(
        service.plan_made_before, context, caller, idempotency_key, request_hash
    )
    in_background = "respond-async" in (prefer or "").lower()
    if not in_background:
        leave_place(request)  # it waits for one to be planned in, and is read there
    if plan_id is None:
        plan_id = await schedule(
            context,
            caller,
            upload,
            options,
            idempotency_key,
            request_hash,
            in_background=in_background,
        )
    row, document = await to_thread.run_sync(jobs.job_with_result, context, caller, plan_id, "plan")
    return _schedule_answer(row, document)


def _schedule_answer(row: Job, document: bytes | None) -> Response:
    location = f"/plans/{row.id}"
    if document is not None:
        headers = {"Content-Location": location, "Location": location}
        return Response(document, media_type="application/json", headers=headers)
    summary = summary_of(row)
    if summary.error is not None:
        more = summary.error.model_dump(
            exclude={"type", "title", "status", "detail", "instance", "request_id"}
        )
        raise Problem(
            summary.error.status, summary.error.type.rpartition("/")[2], summary.error.detail, **more
        )
    return json_response(summary, 202, {"Location": location, "Retry-After": "1"})


@router.post(
    "/projects/{project_id}/plans",
    operation_id="planProject",
    status_code=202,
    response_model=PlanSummary,
    responses={**problems(404, 413, 415), 202: _ACCEPTED},
)
def create_plan(
    project_id: str,
    context: Context,
    caller: Planner,
    wanted: Annotated[PlanRequest | None, Body()] = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """Plans the project's newest version in the background."""
    parameters = (wanted or PlanRequest()).model_dump()
    row = jobs.request_job(context, caller, project_id, "plan", parameters, idempotency_key)
    return json_response(summary_of(row), 202, {"Location": f"/plans/{row.id}", "Retry-After": "1"})


@router.get(
    "/projects/{project_id}/plans",
    operation_id="listPlans",
    response_model=Page[PlanSummary],
    responses=problems(404),
)
def list_plans(
    project_id: str,
    context: Context,
    caller: Reader,
    limit: Limit = 50,
    after: After = None,
    status: OfStatus = None,
    since: Since = None,
) -> Page[PlanSummary]:
    """The project's plans, newest first."""
    rows = jobs.jobs_page(
        context, caller, project_id, "plan", limit, after, status=status, since=moment_since(since)
    )
    items = [summary_of(row) for row in rows]
    return page_of(items, limit, items[-1].id if items else "")


@router.get("/plans/{plan_id}", operation_id="readPlan", response_model=KeptPlan, responses=problems(404))
def read_plan(plan_id: str, context: Context, caller: Reader) -> Response:
    """A plan's status, and its tables once it is done."""
    row, document = jobs.job_with_result(context, caller, plan_id, "plan")
    if document is not None:
        _, document = finished_plan(context, caller, plan_id)  # of an issued plan: as it was issued
    return json_response(summary_of(row), plan=document or b"null")


@router.delete(
    "/plans/{plan_id}", operation_id="cancelPlan", response_model=PlanSummary, responses=problems(404, 409)
)
def cancel_plan(plan_id: str, context: Context, caller: Planner) -> PlanSummary:
    """Cancels a plan that is queued or running; a finished one is kept."""
    return summary_of(jobs.cancel_job(context, caller, plan_id, "plan"))


@router.get(
    "/plans/{plan_id}/events",
    operation_id="watchPlan",
    response_class=Response,
    responses={**problems(404), **WATCH_RESPONSES},
)
def watch_plan(
    plan_id: str,
    context: Context,
    caller: Reader,
    last_event_id: LastEventId = None,
    after: AfterEvent = 0,
) -> Response:
    """The plan's progress as Server-Sent Events, from the first or after Last-Event-ID."""
    return event_stream(context, caller, plan_id, "plan", last_event_id, after)
