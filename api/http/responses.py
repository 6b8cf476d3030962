"""The answers that routes share in OpenAPI, and JSON that is kept as text and never parsed on its way out."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from fastapi import Response
from pydantic import BaseModel

from api.http.problem_details import MEDIA_TYPE, ProblemDetails

_WHAT = {
    400: "The request cannot be read",
    401: "An API key is needed",
    403: "The key's role does not allow this",
    404: "There is no such thing, or it is another company's",
    409: "It is not in a state for this",
    412: "It has changed since: read it again",
    413: "Too large",
    415: "Not a media type that is read here",
    422: "Unusable input: every fault with its place and its fix",
    428: "If-Match is needed",
    429: "Too many requests",
    503: "Not ready: try again",
}
_HEADERS = {
    "ETag": (
        "What this is a version of, in quotes: send it as If-None-Match, or as If-Match to replace it.",
        '"3"',
    ),
    "Location": ("Where it is.", "/v1/plans/7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d"),
    "Content-Location": ("Where it is kept.", "/v1/plans/7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d"),
    "Retry-After": ("Seconds to wait.", "10"),
    "WWW-Authenticate": ("How to show a key.", "Bearer"),
    "Content-Disposition": ("The name to save it under.", 'attachment; filename="order-7c0e4b2f.pdf"'),
}
_WITH_PROBLEM = {401: ("WWW-Authenticate",), 429: ("Retry-After",), 503: ("Retry-After",)}
BINARY: dict[str, Any] = {"schema": {"type": "string", "format": "binary"}}  # a file as OpenAPI has it
ALWAYS = (400, 401, 403, 422, 429, 503)


def carrying(*names: str) -> dict[str, Any]:
    """OpenAPI's headers of an answer, which it always carries."""
    found = {
        name: {"description": says, "schema": {"type": "string"}, "example": example}
        for name, (says, example) in _HEADERS.items()
        if name in names
    }
    return {"headers": found} if found else {}


def accepted(
    model: type[BaseModel], says: str = "Made in the background: Location says where"
) -> dict[str, Any]:
    """OpenAPI's answer of what is made in the background."""
    return {"description": says, "model": model, **carrying("Location", "Retry-After")}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """OpenAPI's answers for problems: those that any route may give, and these."""
    return {
        status: {
            "description": _WHAT[status],
            "model": ProblemDetails,
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}},
            **carrying(*_WITH_PROBLEM.get(status, ())),
        }
        for status in sorted({*ALWAYS, *statuses})
    }


def json_response(
    resource: BaseModel, status: int = 200, headers: dict[str, str] | None = None, **documents: bytes
) -> Response:
    """A resource as JSON; `documents` are further members whose JSON text is put in as it is kept."""
    text = resource.model_dump_json(exclude=set(documents)).encode()
    for name, document in documents.items():
        comma = b"" if text == b"{}" else b", "
        text = text[:-1] + comma + json.dumps(name).encode() + b": " + document.strip() + b"}"
    return Response(text, status_code=status, media_type="application/json", headers=headers)


@dataclass(frozen=True)
class File:
    """A file to download; `content` in the content coding `coding` ('': none)."""

    content: bytes
    media_type: str
    name: str
    coding: str = ""


def file_response(file: File) -> Response:
    """A file as an answer that a browser saves under its name."""
    return Response(
        file.content,
        media_type=file.media_type,
        headers={
            "Content-Disposition": f'attachment; filename="{file.name}"',
            **({"Content-Encoding": file.coding} if file.coding else {}),
        },
    )
