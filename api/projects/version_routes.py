"""The versions of a survey: which there are, each with its tables, as a workbook, and what it changed."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Header, Path, Query, Response

from api.accounts.access import Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.media_types import XLSX
from api.http.paging import Limit
from api.http.preconditions import names_etag
from api.http.responses import BINARY, File, carrying, file_response, json_response, problems
from api.projects import service
from api.projects.schemas import KeptVersion, TableChange, VersionDifference, Versions, VersionSummary
from api.projects.service import SurveyVersion

router = APIRouter(route_class=GuardedRoute, tags=["projects"])
Number = Annotated[int, Path(ge=1, le=2**31 - 2, description="The version's, counted from 1.")]
_NAME = "survey-{version}.xlsx"


def _summary(kept: SurveyVersion) -> VersionSummary:
    return VersionSummary(version=kept.number, kept_at=kept.kept_at, kept_by=kept.kept_by)


@router.get(
    "/projects/{project_id}/versions",
    operation_id="listVersions",
    response_model=Versions,
    responses=problems(404),
)
def list_versions(
    project_id: str,
    context: Context,
    caller: Reader,
    limit: Limit = 50,
    before: Annotated[
        int | None, Query(ge=1, le=2**31 - 1, description="The `next` of the page before.")
    ] = None,
) -> Versions:
    """The versions of the project's survey, newest first."""
    items = [_summary(one) for one in service.versions_of(context, caller, project_id, limit, before)]
    return Versions(items=items, next=items[-1].version if items and items[-1].version > 1 else None)


@router.get(
    "/projects/{project_id}/versions/{version}",
    operation_id="readVersion",
    response_model=KeptVersion,
    responses={
        **problems(404),
        200: {"description": "The version", **carrying("ETag")},
        304: {"description": "It is the one that If-None-Match names", **carrying("ETag")},
    },
)
def read_version(
    project_id: str,
    version: Number,
    context: Context,
    caller: Reader,
    if_none_match: Annotated[str | None, Header(max_length=200)] = None,
) -> Response:
    """A version of the survey with its tables. It never changes."""
    kept, headers = service.kept_version(context, caller, project_id, version), {"ETag": f'"{version}"'}
    if names_etag(if_none_match or "", headers["ETag"]):
        return Response(status_code=304, headers=headers)
    document = service.version_document(context, caller, project_id, version)
    return json_response(_summary(kept), 200, headers, project=document)


@router.get(
    "/projects/{project_id}/versions/{version}/survey.xlsx",
    operation_id="readVersionWorkbook",
    response_class=Response,
    responses={
        **problems(404, 413),
        200: {
            "description": "The version as a workbook that can be sent again",
            "content": {XLSX: BINARY},
            **carrying("Content-Disposition"),
        },
    },
)
@rendering
def read_version_workbook(project_id: str, version: Number, context: Context, caller: Reader) -> Response:
    """A version of the survey as a workbook."""
    content = service.version_workbook(context, caller, project_id, version)
    return file_response(File(content, XLSX, _NAME.format(version=version)))


@router.get(
    "/projects/{project_id}/versions/{version}/difference",
    operation_id="readVersionDifference",
    response_model=VersionDifference,
    responses=problems(404, 413),
)
@rendering
def read_version_difference(
    project_id: str,
    version: Number,
    context: Context,
    caller: Reader,
    against: Annotated[
        int | None, Query(ge=1, le=2**31 - 2, description="Another version; left out: the one before.")
    ] = None,
) -> VersionDifference:
    """What a version of the survey changes, cell by cell; the first one, without `against`, changes nothing."""
    other = max(1, version - 1) if against is None else against
    changes = service.version_changes(context, caller, project_id, version, other)
    items = [TableChange(**asdict(one)) for one in changes]
    return VersionDifference(version=version, against=other, items=items)


@router.get(
    "/survey-template.xlsx",
    operation_id="readSurveyTemplate",
    response_class=Response,
    responses={
        **problems(),
        200: {
            "description": "The workbook",
            "content": {XLSX: BINARY},
            **carrying("Content-Disposition"),
        },
    },
)
@rendering
def read_survey_template(context: Context, caller: Reader) -> Response:
    """The empty workbook that a survey is written into, with its headings, units, drop-downs and notes."""
    return file_response(File(service.survey_template(context), XLSX, "survey-template.xlsx"))
