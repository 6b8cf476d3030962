"""Issuing a plan's order."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Response

from api.accounts.access import Issuer
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.preconditions import versions_in
from api.http.responses import carrying, json_response, problems
from api.orders.schemas import IssuedOrder, headers_of
from api.plans import service

router = APIRouter(route_class=GuardedRoute, tags=["orders"])


@router.post(
    "/plans/{plan_id}/issue",
    operation_id="issueOrder",
    status_code=201,
    response_model=IssuedOrder,
    responses={
        **problems(404, 409, 412),
        200: {
            "description": "This plan was issued before: its revision, unchanged",
            "model": IssuedOrder,
            **carrying("Location", "ETag"),
        },
        201: {"description": "The new revision", **carrying("Location", "ETag")},
    },
)
@rendering
def issue_order(
    plan_id: str,
    context: Context,
    caller: Issuer,
    if_match: Annotated[
        str | None,
        Header(
            max_length=200,
            description="The revision that is expected to be the last (0: none is issued), as the ETag of the project's"
            " orders; left out: whichever it is.",
        ),
    ] = None,
) -> Response:
    """Freezes the plan's order as the project's next revision, and puts what it orders on the record of the job.

    Issuing a plan again changes nothing. With If-Match it is refused where another revision was issued meanwhile.
    """
    expected = None if if_match is None else versions_in(if_match)
    issued, new = service.issue_plan(context, caller, plan_id, expected)
    return json_response(IssuedOrder.model_validate(issued), 201 if new else 200, headers_of(issued))
