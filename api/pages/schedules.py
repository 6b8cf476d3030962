"""The sheets of one plan: its order, deliveries, levels, runs and boards; and its making, while it is made."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from api.admission import rendering
from api.clock import today
from api.context import Context
from api.http.problem_details import Problem
from api.http.responses import file_response, json_response
from api.jobs.events import LastEventId, event_stream
from api.jobs.service import cancel_unless_ended, get_job
from api.orders import service as orders
from api.orders.difference import difference
from api.orders.schemas import IssuedOrder
from api.pages.answers import PageRoute, go_to, or_404, page
from api.pages.boards_view import drawn_layout, run_pictures, step_counts
from api.pages.charts import readable
from api.pages.deliveries_view import on_site, time_line
from api.pages.figures import a_piece_of, level_chart, piece_count, staged
from api.pages.finding import find
from api.pages.level_view import levels_of, run_page
from api.pages.order_view import order_view
from api.pages.other_stagings import way_out
from api.pages.section_view import section_view
from api.pages.sheets import place_named, sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Issuer, Planner, Reader
from api.plans import files
from api.plans.documents import FORMS, LabelOrder
from api.plans.schemas import Levels, PaperSize, WithNominal, summary_of
from api.plans.service import issue_plan, revision_after
from api.projects.service import get_project
from api.replans import service as replans

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)


@router.get("")
def order_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """The order; or, while the plan is made, how far it is."""
    row = get_job(context, caller, plan_id, "plan")
    if row.status != "done":
        building = get_project(context, caller, row.project_id)
        return page(request, "making.html", caller=caller, job=summary_of(row), building=building)
    sheet = sheet_of(context, caller, plan_id, "")
    issued = orders.issued_orders(context, caller, row.project_id)
    change = None
    if sheet.revision is None and issued:
        following = revision_after(context, caller, row, issued[-1])
        change = difference(issued[-1]["order"], following.order, following.because)
    return sheet_page(
        request,
        "order.html",
        caller,
        sheet,
        order=order_view(sheet.plan, today(), issued=sheet.revision is not None),
        way_out=way_out(context, caller, sheet.job, sheet.plan, today()),
        section=section_view(sheet.plan),
        pieces=piece_count(sheet.plan),
        replanned=summary_of(row).request.replan_of,
        issued=sheet.revision,
        last_revision=issued[-1]["revision"] if issued else 0,
        change=change,
        change_statuses={level.level: level.status for level in sheet.plan.levels},
    )


def _statuses_of_lines(order: Mapping[str, Any]) -> dict[str, str]:
    """Whether each level of an issued order was firm or a forecast when it was issued; {} where all were firm."""
    found = {line["level"]: line.get("status", "firm") for line in order["lines"]}
    return found if "forecast" in found.values() else {}


@router.post("/cancel", dependencies=SAME_SITE_ONLY)
def cancel(plan_id: str, context: Context, caller: Planner) -> Response:
    """Cancels a plan that is being made."""
    cancel_unless_ended(context, caller, plan_id, "plan")
    return go_to(f"/schedules/{plan_id}")


@router.get("/events")
def events(
    plan_id: str,
    context: Context,
    caller: Reader,
    last_event_id: LastEventId = None,
) -> Response:
    """The plan's progress as Server-Sent Events."""
    return event_stream(context, caller, plan_id, "plan", last_event_id)


@router.post("/issue", dependencies=SAME_SITE_ONLY)
@rendering
def issue(
    plan_id: str, context: Context, caller: Issuer, after: Annotated[int | None, Form(ge=0)] = None
) -> Response:
    """Freezes the order as the building's next revision, if the last one is still that `after` which it is to come."""
    issue_plan(context, caller, plan_id, None if after is None else frozenset({after}))
    return go_to(f"/schedules/{plan_id}/revisions")


@router.get("/deliveries")
def deliveries_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """What arrives when, and what stands on site."""
    sheet = sheet_of(context, caller, plan_id, "deliveries")
    return sheet_page(
        request,
        "deliveries.html",
        caller,
        sheet,
        order=order_view(sheet.plan, today(), issued=sheet.revision is not None),
        way_out=way_out(context, caller, sheet.job, sheet.plan, today()),
        line=time_line(sheet.plan, today(), issued=sheet.revision is not None),
        issued=sheet.revision,
        chart=readable(level_chart(sheet.plan)),
        staged=staged(sheet.plan),
        site=on_site(sheet.plan),
        standing=sheet.plan.on_site,
    )


@router.get("/deliveries.ics")
@rendering
def calendar(plan_id: str, context: Context, caller: Reader) -> Response:
    """The deliveries and order dates for a calendar."""
    return file_response(files.calendar(context, caller, plan_id))


@router.get("/levels")
def levels_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """Every level, to choose one's own."""
    sheet = sheet_of(context, caller, plan_id, "levels")
    return sheet_page(
        request,
        "levels.html",
        caller,
        sheet,
        section=section_view(sheet.plan),
        levels=levels_of(sheet.plan),
    )


@router.get("/levels/{named:path}")
def level_page(plan_id: str, named: str, request: Request, context: Context, caller: Reader) -> Response:
    """One level, by its name or its place in delivery order: its runs, its counts, and the boards its pieces are cut
    from."""
    sheet = sheet_of(context, caller, plan_id, "levels")
    names = [level.level for level in sheet.plan.project.levels_in_order()]
    place = or_404(place_named, named, names, "level")
    level = or_404(sheet.source.level, place)
    return sheet_page(request, "level.html", caller, sheet, level=level, levels=levels_of(sheet.plan))


@router.get("/runs/{named:path}")
def run_sheet(plan_id: str, named: str, request: Request, context: Context, caller: Reader) -> Response:
    """One run to scale, by its name or its place, with its pieces in order."""
    sheet = sheet_of(context, caller, plan_id, "levels")
    names = [run.run for run in sheet.plan.project.runs]
    place = or_404(place_named, named, names, "run")
    index = sheet.source.run(place)
    run = or_404(run_page, index, place)
    wide, narrow, paper = run_pictures(index, run.run.run)
    return sheet_page(request, "run.html", caller, sheet, run=run, wide=wide, narrow=narrow, paper=paper)


@router.get("/find")
def find_page(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    q: Annotated[str, Query(max_length=80)] = "",
) -> Response:
    """A piece, run, board, remainder or level by a part of its name."""
    sheet = sheet_of(context, caller, plan_id, "find")
    found, count = find(sheet.plan, q)
    example = a_piece_of(sheet.plan) or "L01-N-001"
    return sheet_page(
        request, "find.html", caller, sheet, wanted=q.strip(), found=found, count=count, example=example
    )


@router.get("/boards")
def boards(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    level: Annotated[int, Query(ge=0)] = 0,
    part: Annotated[int, Query(ge=1)] = 1,
) -> Response:
    """How the boards of a level's delivery are cut, to scale."""
    sheet = sheet_of(context, caller, plan_id, "boards")
    counts = step_counts(sheet.plan)
    chosen = level or (counts[0][0] if counts else 0)
    shown = or_404(sheet.source.boards, chosen, part)
    return sheet_page(request, "boards.html", caller, sheet, shown=shown, counts=counts)


@router.get("/boards/{number}")
def board(plan_id: str, number: int, request: Request, context: Context, caller: Reader) -> Response:
    """One layout."""
    sheet = sheet_of(context, caller, plan_id, "boards")
    layout = or_404(drawn_layout, sheet.source.layout(number), number)
    return sheet_page(request, "board.html", caller, sheet, layout=layout)


@router.get("/revisions")
def revisions_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """The building's issued orders, and what each changed."""
    sheet = sheet_of(context, caller, plan_id, "revisions")
    issued = orders.issued_orders(context, caller, sheet.job.project_id)
    return sheet_page(
        request,
        "revisions.html",
        caller,
        sheet,
        revisions=list(reversed(issued)),
        doubts=orders.doubts_about(context, issued, sheet.job.project_id),
        line_statuses={order["revision"]: _statuses_of_lines(order["order"]) for order in issued},
    )


@router.get("/revisions/{revision}.json")
def revision_file(plan_id: str, revision: int, context: Context, caller: Reader) -> Response:
    """An issued order as it was frozen."""
    project_id = get_job(context, caller, plan_id, "plan").project_id
    issued = orders.issued_order(context, caller, project_id, revision)
    return json_response(IssuedOrder.model_validate(issued))


@router.get("/files/{name}")
@rendering
def file(
    plan_id: str,
    name: str,
    context: Context,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
    with_nominal: WithNominal = False,
    order: LabelOrder = "cutting",
) -> Response:
    """The order, the cutting sheets and the labels as files."""
    stem, _, form = name.partition(".")
    if name == "plan.json":
        return file_response(files.plan_json(context, caller, plan_id))
    if stem in files.PRINTED and form == "pdf":
        return file_response(
            files.printed(context, caller, plan_id, stem, paper, levels, with_nominal, order)
        )
    if form == "csv" and stem in replans.CHANGES:
        return file_response(replans.changes(context, caller, plan_id, stem))
    if name == "office.xlsx":
        return file_response(files.workbook(context, caller, plan_id, paper))
    if name == "deliveries.csv":
        return file_response(files.deliveries(context, caller, plan_id))
    if stem == "order" and form in FORMS:
        return file_response(files.order(context, caller, plan_id, form, paper))
    raise Problem(404, "not-found", "A plan has no such file.")
