"""The sheets of one plan: its order, deliveries, levels, runs and boards; and its making, while it is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from markupsafe import Markup

from api import clock
from api.accounts.access import Caller
from api.jobs.events import LastEventId, watched_job
from api.jobs.repository import Job
from api.jobs.requests import cancel_unless_ended, finished_job, found_job
from api.orders.chain import first_broken_revision
from api.orders.difference import difference
from api.orders.repository import chained, issued_from, issued_orders_of
from api.orders.routes import issue_order, read_issued_order
from api.pages.answers import PageRoute, go_to, page
from api.pages.boards_view import boards_page, drawn_layout, layout_counts, run_pictures
from api.pages.deliveries_view import on_site, time_line
from api.pages.frame import Frame, frame_of
from api.pages.level_view import level_view, levels_of, run_page
from api.pages.order_view import order_view
from api.pages.section_view import section_view
from api.pages.sign_in import OWN_FORM, Issuer, Planner, Reader
from api.planner import FORMS
from api.plans.files import Levels, PaperSize, read_cutting_sheets, read_labels, read_order, read_plan_json
from api.plans.schemas import summary_of
from api.problem_details import Problem
from api.projects.routes import found_project
from api.service import Service, TheService
from optimiser.plan import Plan
from optimiser.staging import staging_option
from optimiser.writing.delivery_calendar import delivery_calendar
from optimiser.writing.level_chart import level_chart_svg
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.words import place_in_words

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)


@dataclass(frozen=True)
class Sheet:
    """A finished plan with its frame, as a sheet shows it."""

    plan: Plan
    frame: Frame
    job: Job
    document: bytes
    revision: int | None


def today() -> date:
    """The day it is, UTC."""
    return date.fromisoformat(clock.now()[:10])


def sheet_of(service: Service, caller: Caller, plan_id: str, here: str) -> Sheet:
    """A finished plan. Raises Problem 404, or 409 while it is not done."""
    with service.storage.reading() as connection:
        row, document = finished_job(connection, caller, plan_id, "plan")
        building = found_project(connection, caller, row.project_id)
        issued = issued_from(connection, caller.company_id, plan_id)
    plan = Plan.model_validate_json(document)
    revision = issued["revision"] if issued else None
    frame = frame_of(
        plan,
        plan_id=plan_id,
        building_id=row.project_id,
        survey=row.project_version,
        newest_survey=building.version,
        planned_at=row.finished_at,
        revision=revision,
        here=here,
    )
    return Sheet(plan, frame, row, document, revision)


def sheet_page(request: Request, template: str, caller: Caller, sheet: Sheet, **values: Any) -> Response:
    """A sheet's template, with what every sheet of a plan shows."""
    return page(
        request,
        template,
        caller=caller,
        frame=sheet.frame,
        plan=sheet.plan,
        places=[place_in_words(place) for place in sheet.plan.not_planned],
        **values,
    )


@router.get("")
def order_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """The order; or, while the plan is made, how far it is."""
    with service.storage.reading() as connection:
        row = found_job(connection, caller, plan_id, "plan")
        if row.status != "done":
            building = found_project(connection, caller, row.project_id)
            return page(request, "making.html", caller=caller, job=summary_of(row), building=building)
    sheet = sheet_of(service, caller, plan_id, "")
    with service.storage.reading() as connection:
        issued = issued_orders_of(connection, caller.company_id, row.project_id)
    change = None
    if sheet.revision is None and issued:
        order = sheet.plan.model_dump(mode="json", by_alias=True, include={"order"})["order"]
        change = difference(issued[-1]["order"], order)
    return sheet_page(
        request,
        "order.html",
        caller,
        sheet,
        order=order_view(sheet.plan, today()),
        section=section_view(sheet.plan),
        issued=sheet.revision,
        last_revision=issued[-1]["revision"] if issued else 0,
        change=change,
    )


@router.post("/cancel", dependencies=OWN_FORM)
def cancel(plan_id: str, service: TheService, caller: Planner) -> Response:
    """Cancels a plan that is being made."""
    cancel_unless_ended(service, caller, plan_id, "plan")
    return go_to(f"/schedules/{plan_id}")


@router.get("/events")
def events(
    plan_id: str,
    service: TheService,
    caller: Reader,
    last_event_id: LastEventId = None,
) -> Response:
    """The plan's progress as Server-Sent Events."""
    return watched_job(service, caller, plan_id, "plan", last_event_id)


@router.post("/issue", dependencies=OWN_FORM)
def issue(plan_id: str, service: TheService, caller: Issuer) -> Response:
    """Freezes the order as the building's next revision."""
    issue_order(plan_id, service, caller)
    return go_to(f"/schedules/{plan_id}/revisions")


@router.get("/deliveries")
def deliveries_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """What arrives when, and what stands on site."""
    sheet = sheet_of(service, caller, plan_id, "deliveries")
    return sheet_page(
        request,
        "deliveries.html",
        caller,
        sheet,
        order=order_view(sheet.plan, today()),
        line=time_line(sheet.plan, today()),
        chart=Markup(level_chart_svg(sheet.plan)),
        staged=staging_option(sheet.plan),
        site=on_site(sheet.plan),
    )


@router.get("/deliveries.ics")
def calendar(plan_id: str, service: TheService, caller: Reader) -> Response:
    """The deliveries and order dates for a calendar."""
    sheet = sheet_of(service, caller, plan_id, "deliveries")
    return Response(
        delivery_calendar(sheet.plan),
        media_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="deliveries-{plan_id[:8]}.ics"'},
    )


@router.get("/levels")
def levels_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """Every level, to choose one's own."""
    sheet = sheet_of(service, caller, plan_id, "levels")
    return sheet_page(
        request,
        "levels.html",
        caller,
        sheet,
        section=section_view(sheet.plan),
        levels=levels_of(sheet.plan),
    )


@router.get("/levels/{place}")
def level_page(plan_id: str, place: int, request: Request, service: TheService, caller: Reader) -> Response:
    """One level: its runs, its counts, and the boards its pieces are cut from."""
    sheet = sheet_of(service, caller, plan_id, "levels")
    level = _there(level_view, PlanIndex(sheet.plan), place)
    return sheet_page(request, "level.html", caller, sheet, level=level, levels=levels_of(sheet.plan))


@router.get("/runs/{place}")
def run_sheet(plan_id: str, place: int, request: Request, service: TheService, caller: Reader) -> Response:
    """One run to scale, with its pieces in order."""
    sheet = sheet_of(service, caller, plan_id, "levels")
    index = PlanIndex(sheet.plan)
    run = _there(run_page, index, place)
    wide, narrow = run_pictures(index, run.run.run)
    return sheet_page(request, "run.html", caller, sheet, run=run, wide=wide, narrow=narrow)


@router.get("/boards")
def boards(
    plan_id: str,
    request: Request,
    service: TheService,
    caller: Reader,
    level: Annotated[int, Query(ge=0)] = 0,
    part: Annotated[int, Query(ge=1)] = 1,
) -> Response:
    """How the boards of a level's delivery are cut, to scale."""
    sheet = sheet_of(service, caller, plan_id, "boards")
    index = PlanIndex(sheet.plan)
    counts = layout_counts(sheet.plan, index)
    chosen = level or (counts[0][0] if counts else 0)
    shown = _there(boards_page, index, chosen, part)
    return sheet_page(request, "boards.html", caller, sheet, shown=shown, counts=counts)


@router.get("/boards/{number}")
def board(plan_id: str, number: int, request: Request, service: TheService, caller: Reader) -> Response:
    """One layout."""
    sheet = sheet_of(service, caller, plan_id, "boards")
    layout = _there(drawn_layout, PlanIndex(sheet.plan), number)
    return sheet_page(request, "board.html", caller, sheet, layout=layout, layouts=len(sheet.plan.layouts))


@router.get("/revisions")
def revisions_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """The building's issued orders, and what each changed."""
    sheet = sheet_of(service, caller, plan_id, "revisions")
    with service.storage.reading() as connection:
        issued = issued_orders_of(connection, caller.company_id, sheet.job.project_id)
    intact = first_broken_revision(chained(one) for one in issued) is None
    return sheet_page(
        request, "revisions.html", caller, sheet, revisions=list(reversed(issued)), intact=intact
    )


@router.get("/revisions/{revision}.json")
def revision_file(plan_id: str, revision: int, service: TheService, caller: Reader) -> Response:
    """An issued order as it was frozen."""
    with service.storage.reading() as connection:
        row = found_job(connection, caller, plan_id, "plan")
    return read_issued_order(row.project_id, revision, service, caller)


@router.get("/files/{name}")
def file(
    plan_id: str,
    name: str,
    service: TheService,
    caller: Reader,
    paper: PaperSize = "A4",
    levels: Levels = None,
) -> Response:
    """The order, the cutting sheets and the labels as files."""
    stem, _, form = name.partition(".")
    if name == "plan.json":
        return read_plan_json(plan_id, service, caller)
    if name == "cutting-sheets.pdf":
        return read_cutting_sheets(plan_id, service, caller, paper, levels)
    if name == "labels.pdf":
        return read_labels(plan_id, service, caller, paper, levels)
    if stem == "order" and form in FORMS:
        return read_order(plan_id, form, service, caller, paper)  # type: ignore[arg-type]
    raise Problem(404, "not-found", "A plan has no such file.")


def _there(view: Any, *arguments: Any) -> Any:
    """What a view model makes; what it has not is answered as not found."""
    try:
        return view(*arguments)
    except IndexError as error:
        raise Problem(404, "not-found", str(error)) from None
