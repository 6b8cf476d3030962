"""The sheet of those who measured again: a newer survey against what the plan has cut."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import rendering, uploading
from api.context import AppContext, Context
from api.http.problem_details import Problem
from api.http.responses import File, file_response
from api.idempotency.service import digest
from api.jobs.events import LastEventId, event_stream
from api.jobs.excerpts import excerpt_of, excerpts_named, replace_excerpts
from api.jobs.service import cancel_unless_ended, finished_job
from api.limited_process import run_limited
from api.orders import service as orders
from api.pages import words
from api.pages.answers import PageRoute, go_to, key_of_form
from api.pages.excerpts import (
    CUTTINGS,
    CUTTINGS_IN_A_PART,
    LEVEL_WORK,
    REFIT,
    REFIT_VIEW,
    excerpts_of_refit,
    name_of_cuttings,
    name_of_work,
)
from api.pages.plan_source import PlanSource
from api.pages.refit_view import RefitView
from api.pages.sheets import sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Issuer, Planner, Reader
from api.pages.upload_form import FixedUpload, read_form
from api.projects.reading import ReadProject
from api.projects.service import get_project
from api.refits import service
from api.refits.schemas import RefitRequest

router = APIRouter(prefix="/schedules/{plan_id}/refits", route_class=PageRoute, include_in_schema=False)
_SECONDS = 300  # for the excerpt of a refit of a large building
BUTTON = "Read it and refit the pieces"


@router.get("")
def refits_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """Where a newer survey is dropped, and the refits of this plan."""
    sheet = sheet_of(context, caller, plan_id, "refits")
    building = get_project(context, caller, sheet.job.project_id)
    refits = service.refits_of_plan(context, caller, plan_id)
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
        most_megabytes=context.settings.body_megabytes,
    )


@router.post("", dependencies=SAME_SITE_ONLY)
@uploading
async def upload_resurvey(plan_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """Keeps a newer survey as the building's next, and refits the plan's cut pieces to it."""
    _, building = await to_thread.run_sync(service.plan_to_refit, context, caller, plan_id)
    fixed = FixedUpload(f"/schedules/{plan_id}/refits", building, BUTTON)
    sent = await read_form(request, context, caller, fixed)
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
            context, caller, wanted, sent.project, frozenset({building.version}), sent.once, sent.content
        )

    return await to_thread.run_sync(asked)


@router.post("/newest", dependencies=SAME_SITE_ONLY)
def refit_to_newest(
    plan_id: str,
    context: Context,
    caller: Planner,
    once: Annotated[str, Form(max_length=64)] = "",
    cut: Annotated[list[str] | None, Form()] = None,
    fitted: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Refits the plan's cut pieces to the building's newest survey."""
    wanted = RefitRequest(plan_id=plan_id, cut_levels=cut or [], fitted_levels=fitted or [])
    return _asked(context, caller, wanted, None, None, key_of_form(once), "")


def _asked(
    context: AppContext,
    caller: Caller,
    wanted: RefitRequest,
    survey: ReadProject | None,
    replaces: frozenset[int] | None,
    once: str | None,
    content: str,
) -> Response:
    row = service.request_refit(
        context,
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
    plan_id: str,
    refit_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    level: Annotated[str, Query(max_length=60)] = "",
    part: Annotated[int, Query(ge=1)] = 1,
) -> Response:
    """A refit: what is used again, moved, reworked, re-cut and ordered; the work of one level (the first that has
    any) and a part of the cutting at a time, or all of it to print (`level` is '*')."""
    sheet = sheet_of(context, caller, plan_id, "refits")
    summary = service.refit_of_plan(context, caller, plan_id, refit_id)
    issued = orders.issued_from(context, caller, refit_id)
    revisions = orders.issued_orders(context, caller, summary.project_id)
    shown = _shown(context, caller, sheet.source, refit_id) if summary.status == "done" else None
    with_work = (
        {one.level: place for place, one in enumerate(shown.levels, 1) if one.has_work} if shown else {}
    )
    if level not in ("", "*") and level not in with_work:
        raise Problem(404, "not-found", f"There is nothing to do on a level {level}.")
    here = level or next(iter(with_work), "")
    parts = -(-shown.cuttings // CUTTINGS_IN_A_PART) if shown else 0
    if part > max(1, parts):
        raise Problem(404, "not-found", words.no_such("The cutting", parts, "part", part))
    places = with_work.values() if here == "*" else [with_work[here]] if here else []
    shown_parts = range(1, parts + 1) if here == "*" else range(1, parts + 1)[part - 1 : part]
    with context.storage.reading() as connection:
        work = excerpts_named(connection, refit_id, [name_of_work(place) for place in places])
        cuttings = excerpts_named(connection, refit_id, [name_of_cuttings(one) for one in shown_parts])
    plans_order_is_last = bool(revisions) and revisions[-1]["revision"] == sheet.revision
    return sheet_page(
        request,
        "refit.html",
        caller,
        sheet,
        job=summary,
        shown=shown,
        with_work=list(with_work),
        here=here,
        work=dict(zip(places, (LEVEL_WORK.validate_json(text) for text in work), strict=True)),
        cuttings=[cutting for text in cuttings for cutting in CUTTINGS.validate_json(text)],
        part=part,
        cutting_parts=1 if here == "*" else parts,
        issued=issued,
        next_revision=revisions[-1]["revision"] + 1 if plans_order_is_last else None,
    )


def _shown(context: AppContext, caller: Caller, source: PlanSource, refit_id: str) -> RefitView:
    """A finished refit from its excerpts; one that has none of this program's yet gets them."""
    with context.storage.reading() as connection:
        text = excerpt_of(connection, refit_id, REFIT)
    if text is None:
        with context.making.of(f"excerpts {refit_id}"):
            with context.storage.reading() as connection:
                text = excerpt_of(connection, refit_id, REFIT)  # another request may have made it meanwhile
            if text is None:
                text = _made(context, caller, source, refit_id)
    return REFIT_VIEW.validate_json(text)


def _made(context: AppContext, caller: Caller, source: PlanSource, refit_id: str) -> bytes:
    """The excerpt of a finished refit's page, kept now with its others."""
    _, refit = finished_job(context, caller, refit_id, "refit")
    made: dict[str, str] = run_limited(
        excerpts_of_refit,
        source.document.decode(),
        refit.decode(),
        seconds=_SECONDS,
        megabytes=context.settings.job_megabytes,
    )
    with context.storage.writing() as connection:
        replace_excerpts(connection, refit_id, made)
        text = excerpt_of(connection, refit_id, REFIT)
    assert text is not None, "it was made just now"
    return text


@router.get("/{refit_id}/events")
def refit_events(
    plan_id: str, refit_id: str, context: Context, caller: Reader, last_event_id: LastEventId = None
) -> Response:
    """The refit's progress as Server-Sent Events."""
    return event_stream(context, caller, refit_id, "refit", last_event_id)


@router.post("/{refit_id}/cancel", dependencies=SAME_SITE_ONLY)
def cancel_refit(plan_id: str, refit_id: str, context: Context, caller: Planner) -> Response:
    """Cancels a refit."""
    cancel_unless_ended(context, caller, refit_id, "refit")
    return go_to(f"/schedules/{plan_id}/refits/{refit_id}")


@router.post("/{refit_id}/issue", dependencies=SAME_SITE_ONLY)
@rendering
def issue(plan_id: str, refit_id: str, context: Context, caller: Issuer) -> Response:
    """Freezes the plan's order with the refit's on top as the building's next revision."""
    service.issue_refit(context, caller, refit_id)
    return go_to(f"/schedules/{plan_id}/revisions")


@router.get("/{refit_id}/refit.json")
def refit_file(plan_id: str, refit_id: str, context: Context, caller: Reader) -> Response:
    """The refit as `barrier-orders refit --json` prints it."""
    _, document = finished_job(context, caller, refit_id, "refit")
    return file_response(File(document, "application/json", f"refit-{refit_id[:8]}.json"))
