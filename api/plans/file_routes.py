"""A finished plan as files: the order in every form, cutting sheets, labels and drawings."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from fastapi import APIRouter, Path, Query, Response

from api.accounts.access import Reader
from api.admission import GuardedRoute, rendering
from api.context import Context
from api.http.responses import BINARY, carrying, file_response, problems
from api.plans import files
from api.plans.documents import FORMS, LabelOrder
from api.plans.schemas import Levels, PaperSize, PrecutComparison, WithNominal
from optimiser.model.plan import Plan

router = APIRouter(route_class=GuardedRoute, prefix="/plans/{plan_id}", tags=["plans"])
Form = Literal["pdf", "xlsx", "csv", "xml"]


def _answers(what: str, *media_types: str) -> dict[int | str, dict[str, Any]]:
    content = {media_type.partition(";")[0]: BINARY for media_type in media_types}
    return {
        **problems(404, 409),
        200: {"description": what, "content": content, **carrying("Content-Disposition")},
    }


@router.get(
    "/plan.json",
    operation_id="readPlanDocument",
    response_model=Plan,
    responses={**problems(404, 409), 200: {"description": "The plan", **carrying("Content-Disposition")}},
)
def read_plan_json(plan_id: str, context: Context, caller: Reader) -> Response:
    """The whole plan as the command line's plan.json."""
    return file_response(files.plan_json(context, caller, plan_id))


@router.get(
    "/order.json",
    operation_id="readOrder",
    response_class=Response,
    responses={
        **problems(404, 409),
        200: {
            "description": "The order",
            "content": {"application/json": {"schema": {"type": "object", "additionalProperties": True}}},
            **carrying("Content-Disposition"),
        },
    },
)
@rendering
def read_order(plan_id: str, context: Context, caller: Reader) -> Response:
    """The order as JSON. An issued one carries its revision and its date."""
    return file_response(files.order(context, caller, plan_id, "json", "A4"))


@router.get(
    "/order.{form}",
    operation_id="readOrderFile",
    response_class=Response,
    responses=_answers("The order in this form", *(FORMS[form] for form in get_args(Form))),
)
@rendering
def read_order_file(
    plan_id: str, form: Form, context: Context, caller: Reader, paper: PaperSize = "A4"
) -> Response:
    """The order as PDF, workbook, CSV or UBL. An issued one carries its revision and its date."""
    return file_response(files.order(context, caller, plan_id, form, paper))


@router.get(
    "/office.xlsx",
    operation_id="readOfficeWorkbook",
    response_class=Response,
    responses=_answers("What stands behind the order", FORMS["xlsx"]),
)
@rendering
def read_office_workbook(plan_id: str, context: Context, caller: Reader, paper: PaperSize = "A4") -> Response:
    """From pieces to money, patterns, waste and proofs as a workbook, for the office and not for the supplier."""
    return file_response(files.workbook(context, caller, plan_id, paper))


@router.get(
    "/deliveries.csv",
    operation_id="readDeliveries",
    response_class=Response,
    responses=_answers("A row a delivery: days, loads, weight, cost, what stands on site", "text/csv"),
)
@rendering
def read_deliveries(plan_id: str, context: Context, caller: Reader) -> Response:
    """What comes together, with what brings and stores it."""
    return file_response(files.deliveries(context, caller, plan_id))


@router.get(
    "/deliveries.ics",
    operation_id="readCalendar",
    response_class=Response,
    responses=_answers("Deliveries and order dates for a calendar", "text/calendar"),
)
@rendering
def read_calendar(plan_id: str, context: Context, caller: Reader) -> Response:
    """The days on which to order and on which goods come, as iCalendar (RFC 5545)."""
    return file_response(files.calendar(context, caller, plan_id))


@router.get(
    "/precut", operation_id="comparePrecut", response_model=PrecutComparison, responses=problems(404, 409)
)
@rendering
def compare_precut(
    plan_id: str,
    context: Context,
    caller: Reader,
    draws: Annotated[int, Query(ge=1, le=5000, description="Draws of the gaps.")] = 500,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> Response:
    """Level by level, what cutting now to nominal gaps is expected to scrap, beside cutting on site after measuring."""
    return Response(files.precut(context, caller, plan_id, draws, seed), media_type="application/json")


@router.get(
    "/cutting-sheets.pdf",
    operation_id="readCuttingSheets",
    response_class=Response,
    responses=_answers("Sheets for the crew", "application/pdf"),
)
@rendering
def read_cutting_sheets(
    plan_id: str,
    context: Context,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
    with_nominal: WithNominal = False,
) -> Response:
    """The sheets that the crew cuts and fits from; those of nominal levels are withheld unless they are asked for."""
    return file_response(
        files.printed(context, caller, plan_id, "cutting-sheets", paper, levels, with_nominal)
    )


@router.get(
    "/labels.pdf",
    operation_id="readLabels",
    response_class=Response,
    responses=_answers("Labels", "application/pdf"),
)
@rendering
def read_labels(
    plan_id: str,
    context: Context,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
    with_nominal: WithNominal = False,
    order: LabelOrder = "cutting",
) -> Response:
    """Labels to stick on the pieces, as they are cut or run by run, with their ids as QR codes; those of nominal levels
    are withheld unless they are asked for."""
    return file_response(
        files.printed(context, caller, plan_id, "labels", paper, levels, with_nominal, order)
    )


@router.get(
    "/layouts/{number}.svg",
    operation_id="readLayout",
    response_class=Response,
    responses=_answers("How one board is cut, to scale", "image/svg+xml"),
)
@rendering
def read_layout(
    plan_id: str,
    number: Annotated[
        int,
        Path(
            ge=1, le=10**6, description="The layout's, as its boards are marked; it stays from plan to plan."
        ),
    ],
    context: Context,
    caller: Reader,
) -> Response:
    """A cutting layout as a drawing."""
    return Response(files.layout(context, caller, plan_id, number), media_type="image/svg+xml")


@router.get(
    "/elevations/{run:path}.svg",
    operation_id="readElevation",
    response_class=Response,
    responses=_answers("A run with its pieces, joints and brackets, to scale", "image/svg+xml"),
)
@rendering
def read_elevation(
    plan_id: str,
    run: Annotated[str, Path(max_length=200, description="The run's name.")],
    context: Context,
    caller: Reader,
) -> Response:
    """A run as a drawing, as it is fitted."""
    return Response(files.elevation(context, caller, plan_id, run), media_type="image/svg+xml")
