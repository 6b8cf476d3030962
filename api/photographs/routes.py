"""Keeping and reading photographs."""

from __future__ import annotations

from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Path, Query, Request, Response

from api.accounts.access import Planner, Reader
from api.admission import GuardedRoute, uploading
from api.context import Context
from api.http.responses import BINARY, carrying, json_response, problems
from api.photographs import service
from api.photographs.schemas import About, Photograph, Photographs
from api.photographs.service import MEDIA_TYPES

router = APIRouter(
    route_class=GuardedRoute, prefix="/projects/{project_id}/photographs", tags=["photographs"]
)
_PICTURE = dict.fromkeys(MEDIA_TYPES, BINARY)
_BODY: dict[str, Any] = {"requestBody": {"required": True, "content": _PICTURE}}
OwnId = Annotated[
    str, Path(min_length=1, max_length=60, pattern=r"^[A-Za-z0-9._-]+$", description="The sender's own id.")
]


@router.put(
    "/{photograph_id}",
    operation_id="keepPhotograph",
    status_code=201,
    response_model=Photograph,
    responses={
        **problems(404, 409, 413, 415),
        200: {"description": "It was kept already: nothing is added", "model": Photograph},
        201: {"description": "It is kept", **carrying("Location")},
    },
    openapi_extra=_BODY,
)
@uploading
async def keep_photograph(
    project_id: str,
    photograph_id: OwnId,
    about: Annotated[About, Query()],
    request: Request,
    context: Context,
    caller: Planner,
) -> Response:
    """Keeps a photograph under an id of its sender's own: sent twice it is kept once. It is never altered."""
    content = await request.body()
    kept, new = await to_thread.run_sync(
        service.keep_photograph, context, caller, project_id, photograph_id, about, content
    )
    if not new:
        return json_response(kept)
    return json_response(kept, 201, {"Location": f"/projects/{project_id}/photographs/{photograph_id}"})


@router.get("", operation_id="listPhotographs", response_model=Photographs, responses=problems(404))
def list_photographs(project_id: str, context: Context, caller: Reader) -> Photographs:
    """Every photograph of the project: of what, by whom and when, without the pictures."""
    return Photographs(items=service.all_photographs(context, caller, project_id))


@router.get(
    "/{photograph_id}",
    operation_id="readPhotograph",
    response_class=Response,
    responses={**problems(404), 200: {"description": "The picture", "content": _PICTURE}},
)
def read_photograph(project_id: str, photograph_id: OwnId, context: Context, caller: Reader) -> Response:
    """A photograph's picture."""
    content, media_type = service.picture(context, caller, project_id, photograph_id)
    return Response(content, media_type=media_type)
