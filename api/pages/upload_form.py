"""A form that brings a survey: read in a limited process; what is wrong with it is shown on its cells."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from anyio import to_thread
from fastapi import Request
from fastapi.responses import Response
from starlette.datastructures import FormData

from api.accounts.access import Caller
from api.limited_process import run_limited
from api.pages.answers import page
from api.pages.sheet_cells import SheetPicture, pictures_of
from api.planner import ReadProject, Upload
from api.problem_details import Problem
from api.service import Service
from api.uploads import read_upload, upload_of


@dataclass(frozen=True)
class SentForm:
    """A form whose survey could be read: the project, its content's digest, and the other fields."""

    project: ReadProject
    content: str
    fields: FormData

    @property
    def once(self) -> str | None:
        """The form's own number as an Idempotency-Key: sending the same form twice makes one thing."""
        once = str(self.fields.get("once", ""))
        return f"page-{once}" if once.isalnum() and len(once) <= 64 else None

    def newest_is(self, version: int) -> None:
        """Raises Problem 412 when the form was shown before the building's newest survey was kept."""
        if self.fields.get("version") != str(version):
            raise Problem(
                412,
                "changed",
                "Somebody kept a newer survey meanwhile. Look at it first, then upload yours again.",
            )


@dataclass(frozen=True)
class Again:
    """Where a mended file is sent, and of which building it is (None: of a new one)."""

    address: str
    building: Any = None
    button: str = "Read it and plan the order"


async def read_form(request: Request, service: Service, caller: Caller, again: Again) -> SentForm | Response:
    """What an upload form brings; or the page that says what is wrong, on a picture of its cells."""
    try:
        upload, content = await upload_of(request)
    except Problem as problem:
        return _faults_page(request, service, caller, again, problem, (), "")
    fields = await request.form()
    try:
        return SentForm(await read_upload(upload, service.settings), content, fields)
    except Problem as problem:
        faults = problem.more.get("errors", ())
        pictures = await to_thread.run_sync(_pictures, service, upload, faults) if faults else ()
        return _faults_page(
            request, service, caller, again, problem, pictures, ", ".join(upload.files), fields
        )


def _pictures(service: Service, upload: Upload, faults: list[dict[str, Any]]) -> tuple[SheetPicture, ...]:
    settings = service.settings
    found: tuple[SheetPicture, ...] = run_limited(
        pictures_of, upload, faults, seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
    )
    return found


def _faults_page(
    request: Request,
    service: Service,
    caller: Caller,
    again: Again,
    problem: Problem,
    pictures: tuple[SheetPicture, ...],
    names: str,
    fields: FormData | None = None,
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
        file_names=names,
        kept_fields=[
            (name, value)
            for name, value in sent
            if isinstance(value, str) and name not in ("once", "version")
        ],
        once=uuid.uuid4().hex,
        most_megabytes=service.settings.body_megabytes,
    )
