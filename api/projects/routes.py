"""Keeping, reading and replacing projects."""

from __future__ import annotations

from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Header, Query, Request, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, uploading
from api.context import Context
from api.http.paging import After, Limit, Page, Since, moment_since, page_of
from api.http.preconditions import versions_in
from api.http.responses import carrying, json_response, problems
from api.idempotency.service import IdempotencyKey, digest
from api.projects import service
from api.projects.schemas import Change, Changes, KeptProject, ProjectSummary, summary_of
from api.projects.service import StoredProject
from api.projects.uploads import BODY, read_upload, upload_of

router = APIRouter(route_class=GuardedRoute, prefix="/projects", tags=["projects"])


def _answer(stored: StoredProject, status: int = 200, **headers: str) -> Response:
    headers = {"ETag": f'"{stored.row.version}"', **headers}
    return json_response(summary_of(stored.row), status, headers, project=stored.document)


def _created(stored: StoredProject) -> Response:
    return _answer(stored, 201, Location=f"/projects/{stored.row.id}")


@router.post(
    "",
    operation_id="createProject",
    status_code=201,
    response_model=KeptProject,
    responses={**problems(413, 415), 201: {"description": "It is kept", **carrying("Location", "ETag")}},
    openapi_extra=BODY,
)
@uploading
async def create_project(
    request: Request, context: Context, caller: Planner, idempotency_key: IdempotencyKey = None
) -> Response:
    """Keeps a project, sent as JSON or as a workbook."""
    upload, content = await upload_of(request)
    request_hash = digest("create project", content)
    known = await to_thread.run_sync(
        service.project_made_before, context, caller, idempotency_key, request_hash
    )
    if known is not None:
        return _created(known)
    read = await read_upload(upload, context.settings)
    return _created(
        await to_thread.run_sync(service.create_project, context, caller, read, idempotency_key, request_hash)
    )


@router.get("", operation_id="listProjects", response_model=Page[ProjectSummary], responses=problems())
def list_projects(
    context: Context, caller: Reader, limit: Limit = 50, after: After = None, since: Since = None
) -> Page[ProjectSummary]:
    """The company's projects, newest first; with `since` those that changed from then on."""
    rows = service.projects_page(context, caller, limit, after, moment_since(since))
    items = [summary_of(row) for row in rows]
    return page_of(items, limit, items[-1].id if items else "")


@router.get(
    "/{project_id}",
    operation_id="readProject",
    response_model=KeptProject,
    responses={
        **problems(404),
        200: {"description": "The project", **carrying("ETag")},
        304: {"description": "Unchanged since the version of If-None-Match", **carrying("ETag")},
    },
)
def read_project(
    project_id: str,
    context: Context,
    caller: Reader,
    if_none_match: Annotated[str | None, Header(max_length=200)] = None,
) -> Response:
    """A project with its tables; its ETag is what PUT wants as If-Match."""
    row, stored = service.stored_project(context, caller, project_id, if_none_match or "")
    if stored is None:
        return Response(status_code=304, headers={"ETag": f'"{row.version}"'})
    return _answer(stored)


@router.put(
    "/{project_id}",
    operation_id="replaceProject",
    response_model=KeptProject,
    responses={
        **problems(404, 412, 413, 415, 428),
        200: {"description": "The next version is kept", **carrying("ETag")},
    },
    openapi_extra=BODY,
)
@uploading
async def put_project(
    project_id: str,
    request: Request,
    context: Context,
    caller: Planner,
    if_match: Annotated[
        str | None, Header(max_length=200, description="The ETag of the version that this replaces.")
    ] = None,
) -> Response:
    """Keeps the project's next version, when If-Match names its newest; earlier versions stay."""
    version = await to_thread.run_sync(
        service.replaceable_version, context, caller, project_id, versions_in(if_match)
    )
    upload, _ = await upload_of(request)
    read = await read_upload(upload, context.settings)
    return _answer(
        await to_thread.run_sync(service.replace_project, context, caller, project_id, version, read)
    )


@router.get(
    "/{project_id}/changes",
    operation_id="listProjectChanges",
    response_model=Changes,
    responses=problems(404),
)
def list_changes(
    project_id: str,
    context: Context,
    caller: Reader,
    limit: Limit = 50,
    after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> Changes:
    """Who changed the project, planned it or issued its orders, and when."""
    rows = service.changes_of(context, caller, project_id, limit, after)
    items = [Change.model_validate(row, from_attributes=True) for row in rows]
    return Changes(items=items, next=items[-1].number if len(items) == limit else None)
