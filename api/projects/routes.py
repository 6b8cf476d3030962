"""Keeping, reading and replacing projects."""

from __future__ import annotations

import re
import uuid
from typing import Annotated, Any

import sqlalchemy as sa
from anyio import to_thread
from fastapi import APIRouter, Header, Query, Request, Response

from api.accounts.access import Caller, Planner, Reader
from api.changes import changes_of_project
from api.idempotency import IdempotencyKey, claim, digest, made_before
from api.paging import After, Limit, Page, page_of
from api.planner import ReadProject
from api.problem_details import Problem
from api.projects.repository import (
    add_project,
    document_of,
    project_with_id,
    projects_of,
    replace_project,
)
from api.projects.schemas import Change, Changes, KeptProject, ProjectSummary, summary_of
from api.responses import json_response, problems
from api.service import TheService
from api.uploads import BODY, read_upload, upload_of

router = APIRouter(prefix="/projects", tags=["projects"])


def found_project(connection: sa.Connection, caller: Caller, project_id: str) -> sa.Row[Any]:
    """The caller's project. Raises Problem 404."""
    row = project_with_id(connection, caller.company_id, project_id)
    if row is None:
        raise Problem(404, "not-found", f"There is no project {project_id[:40]}.")
    return row


def _answer(connection: sa.Connection, row: sa.Row[Any], status: int = 200, **headers: str) -> Response:
    headers = {"ETag": f'"{row.version}"', **headers}
    return json_response(
        summary_of(row), status, headers, project=document_of(connection, row.id, row.version)
    )


@router.post(
    "",
    status_code=201,
    response_model=KeptProject,
    responses=problems(413, 415),
    openapi_extra=BODY,
)
async def create_project(
    request: Request, service: TheService, caller: Planner, idempotency_key: IdempotencyKey = None
) -> Response:
    """Keeps a project, sent as JSON or as a workbook."""
    upload, content = await upload_of(request)
    request_hash = digest("create project", content)

    def created(connection: sa.Connection, project_id: str) -> Response:
        row = found_project(connection, caller, project_id)
        return _answer(connection, row, 201, Location=f"/projects/{project_id}")

    def known() -> Response | None:
        with service.storage.reading() as connection:
            made = made_before(connection, caller.company_id, idempotency_key, request_hash)
            return None if made is None else created(connection, made)

    def keep(project: ReadProject) -> Response:
        project_id = uuid.uuid4().hex
        with service.storage.writing() as connection:
            made = claim(connection, caller.company_id, idempotency_key, request_hash, project_id)
            if made is None:
                add_project(connection, caller.company_id, project_id, project, caller.who)
            return created(connection, made or project_id)

    if (answer := await to_thread.run_sync(known)) is not None:
        return answer
    project = await read_upload(upload, service.settings)
    return await to_thread.run_sync(keep, project)


@router.get("", response_model=Page[ProjectSummary], responses=problems())
def list_projects(
    service: TheService, caller: Reader, limit: Limit = 50, after: After = None
) -> Page[ProjectSummary]:
    """The company's projects, newest first."""
    with service.storage.reading() as connection:
        items = [summary_of(row) for row in projects_of(connection, caller.company_id, limit, after)]
    return page_of(items, limit, items[-1].id if items else "")


@router.get(
    "/{project_id}",
    response_model=KeptProject,
    responses={**problems(404), 304: {"description": "Unchanged since the version of If-None-Match"}},
)
def read_project(
    project_id: str,
    service: TheService,
    caller: Reader,
    if_none_match: Annotated[str | None, Header(max_length=200)] = None,
) -> Response:
    """A project with its tables; its ETag is what PUT wants as If-Match."""
    with service.storage.reading() as connection:
        row = found_project(connection, caller, project_id)
        if if_none_match is not None and f'"{row.version}"' in if_none_match:
            return Response(status_code=304, headers={"ETag": f'"{row.version}"'})
        return _answer(connection, row)


@router.put(
    "/{project_id}",
    response_model=KeptProject,
    responses=problems(404, 412, 413, 415, 428),
    openapi_extra=BODY,
)
async def put_project(
    project_id: str,
    request: Request,
    service: TheService,
    caller: Planner,
    if_match: Annotated[
        str | None, Header(max_length=200, description="The ETag of the version that this replaces.")
    ] = None,
) -> Response:
    """Keeps the project's next version, when If-Match names its newest; earlier versions stay."""
    wanted = versions_in(if_match)

    def newest() -> int:
        with service.storage.reading() as connection:
            version: int = found_project(connection, caller, project_id).version
        if wanted is not None and version not in wanted:
            raise changed(project_id)
        return version

    def keep(project: ReadProject, version: int) -> Response:
        with service.storage.writing() as connection:
            if not replace_project(connection, caller.company_id, project_id, version, project, caller.who):
                raise changed(project_id)
            return _answer(connection, found_project(connection, caller, project_id))

    version = await to_thread.run_sync(newest)
    upload, _ = await upload_of(request)
    return await to_thread.run_sync(keep, await read_upload(upload, service.settings), version)


@router.get("/{project_id}/changes", response_model=Changes, responses=problems(404))
def list_changes(
    project_id: str,
    service: TheService,
    caller: Reader,
    limit: Limit = 50,
    after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> Changes:
    """Who changed the project, planned it or issued its orders, and when."""
    with service.storage.reading() as connection:
        found_project(connection, caller, project_id)
        rows = changes_of_project(connection, caller.company_id, project_id, limit, after)
    items = [Change.model_validate(row, from_attributes=True) for row in rows]
    return Changes(items=items, next=items[-1].number if len(items) == limit else None)


def versions_in(if_match: str | None) -> frozenset[int] | None:
    """The versions that If-Match names; None: any ('*', RFC 9110, section 13.1.1).

    Raises Problem 428 without the header, 412 when it names no version.
    """
    if if_match is None:
        raise Problem(428, "precondition-required", "Send If-Match with the ETag of the version you replace.")
    if if_match.strip() == "*":
        return None
    versions = frozenset(int(digits) for digits in re.findall(r'(?<!W/)"(\d{1,9})"', if_match))
    if not versions:
        raise Problem(412, "precondition-failed", "If-Match names no version of this project.")
    return versions


def changed(project_id: str) -> Problem:
    """The answer to a replacement of what is no longer the newest version."""
    return Problem(
        412, "precondition-failed", f"Project {project_id} has changed since: read it again, then replace it."
    )
