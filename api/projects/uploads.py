"""What a request brings: a project as JSON, as a workbook in the body, or as files of a form."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, TypeVar

from anyio import to_thread
from fastapi import Request
from starlette.datastructures import UploadFile

from api.context import AppContext
from api.http.media_types import XLSX
from api.http.problem_details import Problem, faulty
from api.idempotency.service import digest
from api.limited_process import LimitReached, run_limited
from api.projects.reading import ReadProject, Unreadable, Unusable, Upload, read
from api.settings import Settings

_MOST_FILES, _MOST_FIELDS = 12, 2000
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,99}")
_JSON = re.compile(r"application/(?:[a-z0-9.+-]+\+)?json")
_Made = TypeVar("_Made")

# The request body in OpenAPI: read by hand, because one route takes three media types.
BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "application/json": {"schema": {"$ref": "#/components/schemas/Project"}},
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "properties": {"workbook": {"type": "string", "format": "binary"}},
                    "required": ["workbook"],
                }
            },
            XLSX: {"schema": {"type": "string", "format": "binary"}},
        },
    }
}


async def upload_of(request: Request) -> tuple[Upload, str]:
    """What a request brings and the digest of its content.

    Raises Problem 400 for a form that cannot be read, 415 for another media type.
    """
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type == "multipart/form-data":
        return await _form_upload(request)
    body = await request.body()
    if media_type in ("", "application/octet-stream"):
        media_type = "application/json" if _is_json(body) else XLSX
    is_json = _JSON.fullmatch(media_type) is not None
    if (is_json or media_type == XLSX) and not body:
        raise Problem(400, "unreadable-body", "The body is empty: send a project as JSON or as a workbook.")
    if is_json:
        return Upload("json", {"project.json": body}), digest("json", body)
    if media_type == XLSX:
        return Upload("files", {"workbook.xlsx": body}), digest("workbook", body)
    raise Problem(
        415,
        "unsupported-media-type",
        f"A project comes as application/json, multipart/form-data or {XLSX}.",
        headers={"Accept-Post": f"application/json, multipart/form-data, {XLSX}"},
    )


def _is_json(content: bytes) -> bool:
    """Whether something of no stated type begins as a JSON object does; else it is taken for a workbook."""
    return content[:100].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{")


async def _form_upload(request: Request) -> tuple[Upload, str]:
    files: dict[str, bytes] = {}
    async with request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS) as form:
        for _, value in form.multi_items():
            if isinstance(value, UploadFile):
                name = (value.filename or "").replace("\\", "/").rpartition("/")[2]
                if not _NAME.fullmatch(name):
                    name = re.sub(r"[^A-Za-z0-9._-]", "_", name).lstrip("._-")[-100:] or "workbook.xlsx"
                if name in files:
                    raise Problem(400, "unreadable-body", f"Two files of the form are named {name}.")
                content = await value.read()
                if "." not in name:  # a script's part without a file name
                    name += ".json" if _is_json(content) else ".xlsx"
                files[name] = content
    if not files:
        raise Problem(
            400, "unreadable-body", "The form holds no file: send the workbook in a field of its own."
        )
    ending = {name.rpartition(".")[2].lower() for name in files}
    if len(files) == 1 and ending == {"json"}:
        (body,) = files.values()
        return Upload("json", {"project.json": body}), digest("json", body)
    if not (len(files) == 1 and ending == {"xlsx"}) and ending != {"csv"}:
        raise Problem(
            415,
            "unsupported-media-type",
            "Send one workbook (.xlsx), one .json, or the tables as .csv files.",
        )
    return Upload("files", files), digest(*(part for name in sorted(files) for part in (name, files[name])))


async def read_upload(upload: Upload, settings: Settings) -> ReadProject:
    """The project of an upload, read in a limited process.

    Raises Problem 400, 413 or 422 (see `as_problem`).
    """

    def limited() -> ReadProject:
        found: ReadProject = run_limited(
            read, upload, seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
        )
        return found

    try:
        return await to_thread.run_sync(limited)
    except (Unreadable, Unusable, LimitReached) as error:
        raise as_problem(error) from None


def limited(
    context: AppContext, work: Callable[..., _Made], *arguments: Any, megabytes: int | None = None
) -> _Made:
    """What `work` makes of what was sent or kept, in a process limited as an upload's reading is (`megabytes`: to other
    memory). Raises what it raises, and Problem 413 beyond the limits."""
    settings = context.settings
    try:
        made: _Made = run_limited(
            work,
            *arguments,
            seconds=settings.parse_seconds,
            megabytes=settings.parse_megabytes if megabytes is None else megabytes,
        )
    except LimitReached as limit:
        raise as_problem(limit) from None
    return made


def as_problem(error: Unreadable | Unusable | LimitReached) -> Problem:
    """The answer to an upload that cannot be read."""
    if isinstance(error, Unreadable):
        return Problem(400, "unreadable-body", f"The body is not valid JSON: {error}.")
    if isinstance(error, Unusable):
        return faulty("The project has", error.faults, error.more)
    return Problem(
        413,
        "content-too-large",
        f"Reading this needs more {error.limit} than an upload is given. Send fewer or smaller tables.",
    )
