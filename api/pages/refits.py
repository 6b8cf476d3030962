"""The sheet of those who measured anew: a newer survey against what the plan has cut."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from api.accounts.access import Caller
from api.idempotency import digest
from api.jobs.events import LastEventId, watched_job
from api.jobs.repository import result_of
from api.jobs.requests import cancel_unless_ended, finished_job, found_job
from api.orders.repository import issued_from, issued_orders_of
from api.pages.answers import PageRoute, go_to
from api.pages.refit_view import refit_view
from api.pages.schedules import sheet_of, sheet_page
from api.pages.sign_in import OWN_FORM, Issuer, Planner, Reader
from api.pages.upload_form import Again, read_form
from api.planner import ReadProject
from api.problem_details import Problem
from api.projects.routes import found_project
from api.refits.requests import refits_of_plan, request_refit
from api.refits.routes import issue_refit
from api.refits.schemas import RefitRequest, RefitResult, summary_of
from api.service import Service, TheService

router = APIRouter(prefix="/schedules/{plan_id}/refits", route_class=PageRoute, include_in_schema=False)
BUTTON = "Read it and refit the pieces"


@router.get("")
def refits_page(plan_id: str, request: Request, service: TheService, caller: Reader) -> Response:
    """Where a newer survey is dropped, and the refits of this plan."""
    sheet = sheet_of(service, caller, plan_id, "refits")
    with service.storage.reading() as connection:
        building = found_project(connection, caller, sheet.job.project_id)
        refits = refits_of_plan(connection, caller, sheet.job)
    return sheet_page(
        request,
        "refits.html",
        caller,
        sheet,
        building=building,
        refits=refits,
        levels=[level.level for level in sheet.plan.project.levels_in_order()],
        button=BUTTON,
        once=uuid.uuid4().hex,
        most_megabytes=service.settings.body_megabytes,
    )


@router.post("", dependencies=OWN_FORM)
async def upload_resurvey(plan_id: str, request: Request, service: TheService, caller: Planner) -> Response:
    """Keeps a newer survey as the building's next, and refits the plan's cut pieces to it."""

    def check() -> Any:
        with service.storage.reading() as connection:
            plan, _ = finished_job(connection, caller, plan_id, "plan")
            return found_project(connection, caller, plan.project_id)

    building = await to_thread.run_sync(check)
    sent = await read_form(request, service, caller, Again(f"/schedules/{plan_id}/refits", building, BUTTON))
    if isinstance(sent, Response):
        return sent
    wanted = RefitRequest(
        plan_id=plan_id,
        cut_levels=_levels(sent.fields.getlist("cut")),
        fitted_levels=_levels(sent.fields.getlist("fitted")),
    )
    sent.newest_is(building.version)

    def asked() -> Response:
        return _asked(
            service, caller, wanted, sent.project, frozenset({building.version}), sent.once, sent.content
        )

    return await to_thread.run_sync(asked)


@router.post("/newest", dependencies=OWN_FORM)
def refit_to_newest(
    plan_id: str,
    service: TheService,
    caller: Planner,
    once: Annotated[str, Form(max_length=64)] = "",
    cut: Annotated[list[str] | None, Form()] = None,
    fitted: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Refits the plan's cut pieces to the building's newest survey."""
    wanted = RefitRequest(plan_id=plan_id, cut_levels=cut or [], fitted_levels=fitted or [])
    return _asked(service, caller, wanted, None, None, f"page-{once}" if once.isalnum() else None, "")


def _asked(
    service: Service,
    caller: Caller,
    wanted: RefitRequest,
    survey: ReadProject | None,
    replaces: frozenset[int] | None,
    once: str | None,
    content: str,
) -> Response:
    row = request_refit(
        service,
        caller,
        wanted,
        survey,
        replaces=replaces,
        idempotency_key=once,
        request_hash=digest("refit form", wanted.model_dump_json(), content),
    )
    return go_to(f"/schedules/{wanted.plan_id}/refits/{row.id}")


def _levels(sent: Sequence[object]) -> list[str]:
    return [level for level in sent if isinstance(level, str)]


@router.get("/{refit_id}")
def refit_page(
    plan_id: str, refit_id: str, request: Request, service: TheService, caller: Reader
) -> Response:
    """A refit: what is used again, moved, reworked, cut anew and ordered, level by level."""
    sheet = sheet_of(service, caller, plan_id, "refits")
    with service.storage.reading() as connection:
        row = found_job(connection, caller, refit_id, "refit")
        document = result_of(connection, refit_id)
        issued = issued_from(connection, caller.company_id, refit_id)
        revisions = issued_orders_of(connection, caller.company_id, row.project_id)
    summary = summary_of(row)
    if summary.request.plan_id != plan_id:
        raise Problem(404, "not-found", "This plan has no such refit.")
    refit = RefitResult.model_validate_json(document) if document else None
    plans_order_is_last = bool(revisions) and revisions[-1]["revision"] == sheet.revision
    return sheet_page(
        request,
        "refit.html",
        caller,
        sheet,
        refit=refit,
        job=summary,
        shown=refit_view(sheet.plan, refit) if refit else None,
        issued=issued,
        next_revision=revisions[-1]["revision"] + 1 if plans_order_is_last else None,
    )


@router.get("/{refit_id}/events")
def refit_events(
    plan_id: str, refit_id: str, service: TheService, caller: Reader, last_event_id: LastEventId = None
) -> Response:
    """The refit's progress as Server-Sent Events."""
    return watched_job(service, caller, refit_id, "refit", last_event_id)


@router.post("/{refit_id}/cancel", dependencies=OWN_FORM)
def cancel_refit(plan_id: str, refit_id: str, service: TheService, caller: Planner) -> Response:
    """Cancels a refit."""
    cancel_unless_ended(service, caller, refit_id, "refit")
    return go_to(f"/schedules/{plan_id}/refits/{refit_id}")


@router.post("/{refit_id}/issue", dependencies=OWN_FORM)
def issue(plan_id: str, refit_id: str, service: TheService, caller: Issuer) -> Response:
    """Freezes the plan's order with the refit's on top as the building's next revision."""
    issue_refit(refit_id, service, caller)
    return go_to(f"/schedules/{plan_id}/revisions")


@router.get("/{refit_id}/refit.json")
def refit_file(plan_id: str, refit_id: str, service: TheService, caller: Reader) -> Response:
    """The refit as `barrier-orders refit --json` prints it."""
    with service.storage.reading() as connection:
        _, document = finished_job(connection, caller, refit_id, "refit")
    return Response(
        document,
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="refit-{refit_id[:8]}.json"'},
    )
