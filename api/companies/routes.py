"""What an administrator may take away."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Header, Response

from api.accounts.access import Administrator
from api.admission import GuardedRoute
from api.companies.deletion import delete_own_project
from api.context import Context
from api.http.preconditions import versions_in
from api.http.responses import problems

router = APIRouter(route_class=GuardedRoute, tags=["projects"])


@router.delete(
    "/projects/{project_id}",
    operation_id="deleteProject",
    status_code=204,
    response_class=Response,
    responses={**problems(404, 409, 412, 428), 204: {"description": "It is deleted"}},
)
def delete_project(
    project_id: str,
    context: Context,
    caller: Administrator,
    if_match: Annotated[
        str | None, Header(max_length=200, description="The ETag of the version that is deleted, or *.")
    ] = None,
) -> Response:
    """Deletes a project with its surveys, plans, record and photographs. One whose orders were issued is kept: they are
    records of purchase."""
    delete_own_project(context, caller, project_id, versions_in(if_match))
    return Response(status_code=204)
