"""The log of who did what, to be read and taken away by whoever may administer."""

from __future__ import annotations

import json
from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.responses import StreamingResponse

from api import clock
from api.accounts.access import Administrator
from api.admission import GuardedRoute
from api.audit.export import COLUMNS, MEDIA_TYPES, Form, exported
from api.audit.repository import all_lines, lines_before
from api.audit.schemas import EXAMPLE, AuditLine, AuditLines
from api.context import AppContext, Context
from api.http.paging import Limit
from api.http.problem_details import Problem
from api.http.responses import carrying, problems

router = APIRouter(route_class=GuardedRoute, prefix="/audit-log", tags=["administration"])

Since = Annotated[
    str | None,
    Query(
        max_length=40,
        description="No lines before this day or moment (ISO 8601, UTC).",
        examples=["2027-02-01"],
    ),
]


@router.get("", operation_id="readAuditLog", response_model=AuditLines, responses=problems())
def read_audit_log(
    context: Context,
    caller: Administrator,
    limit: Limit = 50,
    before: Annotated[
        int | None, Query(ge=1, le=2**31 - 1, description="The `next` of the page before.")
    ] = None,
    since: Since = None,
) -> AuditLines:
    """Who did what from where and when, and what came of it, the newest first. Nothing on it is ever altered."""
    with context.storage.reading() as connection:
        rows = lines_before(connection, caller.company_id, limit, before, _moment(since))
    items = [AuditLine.model_validate(row, from_attributes=True) for row in rows]
    return AuditLines(items=items, next=items[-1].number if len(items) == limit else None)


def _file(form: Form) -> dict[int | str, dict[str, object]]:
    row = {name: EXAMPLE.get(name, "Invented Co") for name in COLUMNS}
    shown = json.dumps(row) if form == "jsonl" else ",".join(COLUMNS)
    content = {MEDIA_TYPES[form].partition(";")[0]: {"schema": {"type": "string"}, "example": shown}}
    says = "The log, the first line first"
    return {
        **problems(),
        200: {"description": says, "content": content, **carrying("Content-Disposition")},
    }


@router.get(".csv", operation_id="exportAuditLogAsCsv", response_class=Response, responses=_file("csv"))
def export_audit_log_as_csv(context: Context, caller: Administrator, since: Since = None) -> Response:
    """The log as csv."""
    return _export(context, caller.company_id, "csv", since)


@router.get(
    ".jsonl", operation_id="exportAuditLogAsJsonLines", response_class=Response, responses=_file("jsonl")
)
def export_audit_log_as_json_lines(context: Context, caller: Administrator, since: Since = None) -> Response:
    """The log as JSON lines: an object a line."""
    return _export(context, caller.company_id, "jsonl", since)


def _export(context: AppContext, company_id: str, form: Form, since: str | None) -> Response:
    lines = all_lines(context.storage, company_id, _moment(since))
    headers = {"Content-Disposition": f'attachment; filename="audit-log.{form}"'}
    return StreamingResponse(exported(lines, form), media_type=MEDIA_TYPES[form], headers=headers)


def _moment(text: str | None) -> str:
    """A moment as the log has it. Raises Problem 422."""
    if text is None:
        return ""
    try:
        return clock.moment_of(text)
    except (ValueError, OverflowError):
        detail = f"`since` is {text!r}: give a day or a moment such as 2027-02-01 or 2027-02-01T08:00:00Z."
        raise Problem(422, "unusable-input", detail) from None
