"""Moving deliveries to other days: what breaks, which days and stagings would fit, and planning again on them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import rendering
from api.clock import today
from api.context import AppContext, Context
from api.http.problem_details import Problem
from api.pages.answers import PageRoute, go_to
from api.pages.dated import dated_plan
from api.pages.dates_view import Asked, dates_of, dates_view
from api.pages.other_stagings import OtherStagings
from api.pages.sheets import sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.plans.schemas import summary_of
from api.plans.service import options_of, plan_newer_survey
from api.projects.editing import EditedSurvey, Faulty, needed_on_other_days
from api.projects.service import get_project, keep_version, version_document
from api.projects.uploads import limited
from api.replans.schemas import ReplanRequest
from api.replans.service import request_replan
from optimiser.tables.deliveries import firmness

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)

_MOVE = re.compile(r"([0-9]{1,4})=([0-9]{4}-[0-9]{2}-[0-9]{2})")
_MOST_MOVES = 60
Moves = Annotated[list[str], Query(max_length=_MOST_MOVES)]


@router.get("/dates")
@rendering
def dates_page(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    moved: Moves = [],  # noqa: B006 (the framework copies it)
    delivery: Annotated[int, Query(ge=0, le=9999)] = 0,
    day: Annotated[str, Query(max_length=10)] = "",
) -> Response:
    """The deliveries on their days, or on those asked for, with what breaks then and what would fit."""
    sheet = sheet_of(context, caller, plan_id, "dates")
    dated = dated_plan(sheet.source)
    if dated is None:
        return sheet_page(request, "dates.html", caller, sheet, view=None)
    asked = _asked(moved, delivery, day)
    try:
        view = dates_view(dated, asked, today(), ordered=sheet.revision is not None)
    except ValueError as error:
        raise Problem(422, "unusable-input", str(error)) from None
    needs = {level: now for level, _, now in view.needs}
    texts = [f"{place}={one}" for place, one in asked.days.items()]
    levels = {level.level: level for level in sheet.plan.levels}
    stagings = OtherStagings(context, caller, sheet.job, sheet.plan.staging)
    return sheet_page(
        request,
        "dates.html",
        caller,
        sheet,
        view=view,
        firmness={
            place: firmness(delivery, levels) for place, delivery in enumerate(sheet.plan.deliveries, 1)
        },
        asked=texts,
        others=[text for text in texts if not text.startswith(f"{asked.chosen}=")],
        stagings=stagings.that_fit(needs, today()) if view.problems else {},
        missing=stagings.missing() if view.problems else (),
    )


def _asked(moved: Iterable[str], delivery: int, day: str) -> Asked:
    """The days of an address or a form. Raises Problem 422 for what is none."""
    days: dict[int, date] = {}
    for text in (*moved, *((f"{delivery}={day}",) if delivery and day else ())):
        found = _MOVE.fullmatch(text)
        try:
            place, one = (int(found[1]), date.fromisoformat(found[2])) if found else (0, date.min)
        except ValueError:
            place = 0
        if not place:
            raise Problem(
                422, "unusable-input", f"{text[:40]!r} names no delivery and day, such as 2=2027-03-08."
            )
        days.pop(place, None)
        days[place] = one
    return Asked(days, delivery or (list(days)[-1] if days else 0))


@router.post("/dates", dependencies=SAME_SITE_ONLY)
@rendering
def save_dates(
    plan_id: str,
    context: Context,
    caller: Planner,
    survey: Annotated[int, Form(ge=1)],
    moved: Annotated[list[str], Form(max_length=_MOST_MOVES)] = [],  # noqa: B006
) -> Response:
    """Keeps the days on which the levels are needed then as the survey's next version, and plans it as this plan was
    asked for, its scenario included."""
    sheet = sheet_of(context, caller, plan_id, "dates")
    dated = dated_plan(sheet.source)
    asked = _asked(moved, 0, "")
    building = get_project(context, caller, sheet.job.project_id)
    if survey != sheet.frame.survey or building.version != survey:
        raise Problem(
            412,
            "precondition-failed",
            f"Survey {building.version} is the newest, and this plan is of survey {sheet.frame.survey}: move the"
            " deliveries of the newest plan.",
        )
    try:
        needs = dated.changed_needs(dates_of(dated, asked)[1]) if dated else {}
    except ValueError as error:
        raise Problem(422, "unusable-input", str(error)) from None
    if not needs:
        return go_to(f"/schedules/{plan_id}/dates")
    edited = _edited(context, caller, building.id, survey, needs)
    wanted = summary_of(sheet.job).request
    if wanted.replan_of is not None:
        keep_version(context, caller, building.id, survey, edited.project, edited.changed)
        again = ReplanRequest(staging=wanted.staging, time_limit=wanted.time_limit, seed=wanted.seed)
        job = request_replan(context, caller, plan_id, again, None)
        return go_to(f"/schedules/{job.id}")
    options = options_of(sheet.job)
    made = plan_newer_survey(context, caller, building.id, survey, edited.project, options, edited.changed)
    return go_to(f"/schedules/{made}")


def _edited(
    context: AppContext, caller: Caller, building_id: str, version: int, needs: Mapping[str, date]
) -> EditedSurvey:
    """The survey with these days. Raises Problem 422 with its faults."""
    text = version_document(context, caller, building_id, version).decode()
    days = {level: day.isoformat() for level, day in needs.items()}
    try:
        return limited(context, needed_on_other_days, text, days)
    except Faulty as found:
        told = "; ".join(f"{fault.place}: {fault.message}" for fault in found.faults[:5])
        raise Problem(422, "unusable-input", f"The survey cannot be kept so: {told}.") from None
