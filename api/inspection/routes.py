"""The report of what was fitted and seen."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Response

from api.accounts.access import Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.responses import BINARY, carrying, file_response, problems
from api.inspection import service
from api.plans.documents import FORMS
from api.plans.schemas import Levels, PaperSize

router = APIRouter(route_class=GuardedRoute, prefix="/plans/{plan_id}", tags=["plans"])
Form = Literal["pdf", "csv"]


@router.get(
    "/inspection.{form}",
    operation_id="readInspection",
    response_class=Response,
    responses={
        **problems(404, 409),
        200: {
            "description": "Joint by joint, bracket by bracket",
            "content": {FORMS[form].partition(";")[0]: BINARY for form in ("pdf", "csv")},
            **carrying("Content-Disposition"),
        },
    },
)
@rendering
def read_inspection(
    plan_id: str,
    form: Form,
    context: Context,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
) -> Response:
    """By level, who fitted and who saw each joint and bracket, and what is not covered yet. It judges no seal."""
    return file_response(service.inspection_report(context, caller, plan_id, form, paper, levels))
