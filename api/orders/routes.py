"""Reading what was issued."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Response

from api.accounts.access import Reader
from api.admission import GuardedRoute
from api.context import Context
from api.http.responses import BINARY, File, carrying, file_response, json_response, problems
from api.orders import service
from api.orders.schemas import IssuedOrder, IssuedOrders, IssuedSummary

router = APIRouter(route_class=GuardedRoute, tags=["orders"])


@router.get(
    "/projects/{project_id}/orders",
    operation_id="listIssuedOrders",
    response_model=IssuedOrders,
    responses={**problems(404), 200: {"description": "The issued orders", **carrying("ETag")}},
)
def list_issued_orders(project_id: str, context: Context, caller: Reader, response: Response) -> IssuedOrders:
    """The project's issued orders, first to last; their hashes are computed again, and the anchor knows one that is
    missing. The ETag is the last revision (0: none), which the next one's If-Match wants."""
    issued = service.issued_orders(context, caller, project_id)
    newest = issued[-1]["revision"] if issued else 0
    response.headers["ETag"] = f'"{newest}"'
    return IssuedOrders(
        items=[IssuedSummary.model_validate(service.with_successor(one, newest)) for one in issued],
        chain_intact=not service.doubts_about(context, issued, project_id),
    )


@router.get(
    "/projects/{project_id}/orders/{revision}",
    operation_id="readIssuedOrder",
    response_model=IssuedOrder,
    responses=problems(404),
)
def read_issued_order(
    project_id: str,
    revision: Annotated[int, Path(ge=1, le=2**31 - 1)],
    context: Context,
    caller: Reader,
) -> Response:
    """An issued order with what it changed, and whether a later revision superseded it."""
    issued = service.issued_order(context, caller, project_id, revision)
    return json_response(IssuedOrder.model_validate(issued), 200)


@router.get(
    "/projects/{project_id}/orders/{revision}/documents/{name}",
    operation_id="readIssuedDocument",
    response_class=Response,
    responses={
        **problems(404, 409),
        200: {
            "description": "The document byte for byte; its SHA-256 stands in the issued order",
            "content": {"application/octet-stream": BINARY},
            **carrying("Content-Disposition"),
        },
    },
)
def read_issued_document(
    project_id: str,
    revision: Annotated[int, Path(ge=1, le=2**31 - 1)],
    name: Annotated[str, Path(max_length=80, description="As the issued order's `documents` name it.")],
    context: Context,
    caller: Reader,
) -> Response:
    """A document of an issued order, as it was made when it was issued."""
    kept = service.document_of_revision(context, caller, project_id, revision, name)
    return file_response(File(kept.content, kept.media_type, f"revision-{revision}-{kept.name}"))
