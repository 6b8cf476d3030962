"""A form that brings a survey: read in a limited process; what is wrong with it is shown on its cells."""

from __future__ import annotations

import uuid
from base64 import b64encode
from dataclasses import dataclass
from typing import Any

from anyio import to_thread
from fastapi import Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from api.accounts.service import Caller
from api.context import AppContext
from api.http.media_types import XLSX
from api.http.problem_details import Problem
from api.limited_process import LimitReached, run_limited
from api.pages.answers import key_of_form, page
from api.pages.sheet_cells import SheetPicture, pictures_of
from api.projects.reading import ReadProject, Upload, marked_workbook_of
from api.projects.uploads import read_upload, upload_of

_MOST_MARKED = 8 * 1024 * 1024  # bytes of a marked workbook that a page may hold


@dataclass(frozen=True)
class SentForm:
    """A form whose survey could be read: the project, its content's digest, and the other fields."""

    project: ReadProject
    content: str
    fields: FormData

    @property
    def once(self) -> str | None:
        """As `key_of_form`."""
        return key_of_form(str(self.fields.get("once", "")))

    def newest_is(self, version: int) -> None:
        """Raises Problem 412 when the form was shown before the building's newest survey was kept."""
        if self.fields.get("version") != str(version):
            raise Problem(
                412,
                "changed",
                "Somebody kept a newer survey meanwhile. Look at it first, then upload yours again.",
            )


@dataclass(frozen=True)
class FixedUpload:
    """Where a corrected file is sent, and of which building it is (None: of a new one)."""

    address: str
    building: Any = None
    button: str = "Read it and plan the order"


async def read_form(
    request: Request, context: AppContext, caller: Caller, again: FixedUpload
) -> SentForm | Response:
    """What an upload form brings; or the page that says what is wrong, on a picture of its cells."""
    try:
        upload, content = await upload_of(request)
    except Problem as problem:
        return _faults_page(request, context, caller, again, problem, (), "")
    fields = await request.form()
    read = await read_or_faults(request, context, caller, again, upload, fields)
    return read if isinstance(read, Response) else SentForm(read, content, fields)


async def read_or_faults(
    request: Request,
    context: AppContext,
    caller: Caller,
    again: FixedUpload,
    upload: Upload,
    fields: FormData | None,
) -> ReadProject | Response:
    """The project of an upload; or the page that says what is wrong with it, with the form's other fields kept."""
    try:
        return await read_upload(upload, context.settings)
    except Problem as problem:
        faults = problem.more.get("errors", ())
        pictures = await to_thread.run_sync(_pictures, context, upload, faults) if faults else ()
        marked = await to_thread.run_sync(_marked, context, upload) if faults else ""
        return _faults_page(
            request, context, caller, again, problem, pictures, ", ".join(upload.files), fields, marked
        )


def _pictures(context: AppContext, upload: Upload, faults: list[dict[str, Any]]) -> tuple[SheetPicture, ...]:
    settings = context.settings
    found: tuple[SheetPicture, ...] = run_limited(
        pictures_of, upload, faults, seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
    )
    return found


def _marked(context: AppContext, upload: Upload) -> str:
    """The marked workbook as an address that the page itself holds, because nothing of a faulty upload is kept; ''
    where there is none: of JSON, of a file that cannot be opened, or of one that is too large for a page."""
    settings = context.settings
    try:
        content: bytes | None = run_limited(
            marked_workbook_of, upload, seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
        )
    except LimitReached:
        return ""
    if content is None or len(content) > _MOST_MARKED:
        return ""
    return f"data:{XLSX};base64,{b64encode(content).decode()}"


def _faults_page(
    request: Request,
    context: AppContext,
    caller: Caller,
    again: FixedUpload,
    problem: Problem,
    pictures: tuple[SheetPicture, ...],
    names: str,
    fields: FormData | None = None,
    marked: str = "",
) -> Response:
    sent = fields.multi_items() if fields else ()
    return page(
        request,
        "faults.html",
        problem.status,
        caller=caller,
        again=again,
        building=again.building,
        detail=problem.detail,
        faults=problem.more.get("errors", ()),
        more=problem.more.get("more", 0),
        pictures=pictures,
        marked=marked,
        file_names=names,
        kept_fields=[
            (name, value)
            for name, value in sent
            if isinstance(value, str) and name not in ("once", "version")
        ],
        once=uuid.uuid4().hex,
        most_megabytes=context.settings.body_megabytes,
    )
