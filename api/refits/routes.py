"""Refitting what is cut to a newer survey, in the background."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Header, Query, Request, Response

from api.accounts.access import Issuer, Planner, Reader
from api.admission import GuardedRoute, rendering, uploading
from api.context import Context
from api.http.preconditions import versions_in
from api.http.responses import accepted, carrying, json_response, problems
from api.idempotency.service import IdempotencyKey, digest
from api.jobs.routes import add_job_routes
from api.orders.schemas import IssuedOrder, headers_of
from api.projects.uploads import BODY, read_upload, upload_of
from api.refits import service
from api.refits.schemas import KeptRefit, Levels, RefitRequest, RefitSummary, summary_of

router = APIRouter(route_class=GuardedRoute, tags=["refits"])
_OPTIONAL_BODY = {"requestBody": {**BODY["requestBody"], "required": False}}


@router.post(
    "/plans/{plan_id}/refits",
    operation_id="refitPlan",
    status_code=202,
    response_model=RefitSummary,
    responses={
        **problems(404, 409, 412, 413, 415),
        202: accepted(RefitSummary),
    },
    openapi_extra=_OPTIONAL_BODY,
)
@uploading
async def create_refit(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Planner,
    cut_levels: Annotated[
        Levels | None, Query(description="Levels whose pieces are cut, named one by one; left out: all.")
    ] = None,
    fitted_levels: Annotated[
        Levels | None, Query(description="Levels whose pieces are fitted: they stay where they are.")
    ] = None,
    time_limit: Annotated[float | None, Query(gt=0, le=600, description="Seconds for the solver.")] = None,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
    if_match: Annotated[
        str | None,
        Header(max_length=200, description="The ETag of the project's version that this replaces."),
    ] = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    """Fits what a plan has cut to a newer survey, in the background.

    The body is the survey, kept as the project's next version; without a body it is the project's newest.
    """
    replaces = None if if_match is None else versions_in(if_match)
    wanted = RefitRequest(
        plan_id=plan_id,
        cut_levels=cut_levels,
        fitted_levels=fitted_levels or [],
        time_limit=time_limit,
        seed=seed,
    )
    survey, content = None, ""
    if await request.body():
        upload, content = await upload_of(request)
        survey = await read_upload(upload, context.settings)

    def requested() -> Response:
        row = service.request_refit(
            context,
            caller,
            wanted,
            survey,
            replaces=replaces,
            idempotency_key=idempotency_key,
            request_hash=digest("refit", wanted.model_dump_json(), content),
        )
        return json_response(summary_of(row), 202, {"Location": f"/refits/{row.id}", "Retry-After": "1"})

    return await to_thread.run_sync(requested)


@router.get(
    "/plans/{plan_id}/refits",
    operation_id="listRefits",
    response_model=list[RefitSummary],
    responses=problems(404),
)
def list_refits(plan_id: str, context: Context, caller: Reader) -> list[RefitSummary]:
    """The newest refits of a plan, newest first."""
    return service.refits_of_plan(context, caller, plan_id)


add_job_routes(
    router, "refit", KeptRefit, RefitSummary, summary_of, "A refit's status, and its tables once done"
)


@router.post(
    "/refits/{job_id}/issue",
    operation_id="issueRefit",
    status_code=201,
    response_model=IssuedOrder,
    responses={
        **problems(404, 409),
        200: {
            "description": "This refit was issued before: its revision, unchanged",
            "model": IssuedOrder,
            **carrying("Location", "ETag"),
        },
        201: {"description": "The new revision", **carrying("Location", "ETag")},
    },
)
@rendering
def issue_refit(job_id: str, context: Context, caller: Issuer) -> Response:
    """Freezes the plan's order with the refit's on top of it as the project's next revision.

    The plan's order must be the last that was issued. Issuing a refit again changes nothing.
    """
    issued, new = service.issue_refit(context, caller, job_id)
    return json_response(IssuedOrder.model_validate(issued), 201 if new else 200, headers_of(issued))
