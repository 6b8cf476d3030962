"""The estimator's sheet: where the board goes, what each staging costs, which gap wastes least, what to allow."""

from __future__ import annotations

import json
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import ValidationError

from api.context import Context
from api.http.responses import File, file_response
from api.jobs.events import LastEventId, event_stream
from api.jobs.service import cancel_unless_ended, finished_job
from api.pages.answers import PageRoute, go_to, unusable_form
from api.pages.charts import staging_bars, waste_bar
from api.pages.figures import gap_range
from api.pages.gap_form import GapForm
from api.pages.plan_source import source_of
from api.pages.sheets import sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.pages.studies_view import frontier_of, gap_options, simulated
from api.pages.words import STAGING
from api.plans.service import newest_by_staging
from api.studies.schemas import AllowanceRequest, FrontierRequest
from api.studies.service import StudyKind, newest_study, request_study_of_plan
from optimiser.studies.gap_option import Comparison
from optimiser.writing.office.gaps_csv import gaps_csv
from optimiser.writing.words import carrying_in_words

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)


@router.get("/options")
def options_page(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    sent: Annotated[GapForm, Query()],
) -> Response:
    """Waste, stagings, gap options and the computed allowance. A form of gaps that could not be used is shown
    again as it was sent, with its fault."""
    sheet = sheet_of(context, caller, plan_id, "options")
    building, survey = sheet.job.project_id, sheet.job.project_version
    plans = newest_by_staging(context, caller, building, survey)
    planned = [(plans[one], source_of(context, caller, plans[one]).plan) for one in STAGING if one in plans]
    comparison = newest_study(context, caller, building, "comparison")
    allowance = newest_study(context, caller, building, "allowance")
    trade_off = newest_study(context, caller, building, "frontier")
    gaps = gap_range(sheet.plan)
    asked = sent.model_copy(
        update={
            "from_mm": sent.from_mm or max(5, gaps.middle - 20) // 5 * 5,
            "to_mm": sent.to_mm or (gaps.middle + 20) // 5 * 5,
        }
    )
    return sheet_page(
        request,
        "options.html",
        caller,
        sheet,
        bar=waste_bar(sheet.plan.waste),
        stagings=staging_bars(planned),
        missing_stagings=[one for one in STAGING if one not in plans],
        trade_off=trade_off,
        frontier=frontier_of(trade_off.result, sheet.plan.project.project.name)
        if trade_off and trade_off.result
        else None,
        carrying=carrying_in_words(sheet.plan),
        comparison=comparison,
        gaps=gap_options(comparison.result, sheet.plan.project.project.name)
        if comparison and comparison.result
        else None,
        allowance=allowance,
        simulated=simulated(allowance.result) if allowance and allowance.result else None,
        asked=asked,
        fault=sent.request()[1] if sent.from_mm else "",
        offered=[board.code for board in sheet.plan.project.boards],
        gap_range=(gaps.least, gaps.greatest),
        nominal=gaps.nominal,
    )


@router.post("/frontiers", dependencies=SAME_SITE_ONLY)
def weigh_waiting(plan_id: str, context: Context, caller: Planner) -> Response:
    """Weighs boards against waiting in the background."""
    request_study_of_plan(context, caller, plan_id, "frontier", FrontierRequest())
    return go_to(f"/schedules/{plan_id}/options#frontier")


@router.post("/comparisons", dependencies=SAME_SITE_ONLY)
def compare_gaps(
    plan_id: str,
    context: Context,
    caller: Planner,
    asked: Annotated[GapForm, Form()],
) -> Response:
    """Compares gap sizes, with the choices asked for, in the background; a form that cannot be used is shown again."""
    wanted, fault = asked.request()
    if wanted is None or fault:
        kept = urlencode(asked.model_dump(exclude_defaults=True), doseq=True)
        return go_to(f"/schedules/{plan_id}/options?{kept}#comparison")
    request_study_of_plan(context, caller, plan_id, "comparison", wanted)
    return go_to(f"/schedules/{plan_id}/options#comparison")


@router.get("/comparisons/{study_id}/gaps.csv")
def gaps_file(plan_id: str, study_id: str, context: Context, caller: Reader) -> Response:
    """A comparison's options as `barrier-orders gaps` writes them."""
    _, document = finished_job(context, caller, study_id, "comparison")
    text = gaps_csv(Comparison.of_json(json.loads(document)))
    return file_response(File(text.encode(), "text/csv; charset=utf-8", f"gaps-{study_id[:8]}.csv"))


@router.post("/allowances", dependencies=SAME_SITE_ONLY)
def simulate(
    plan_id: str,
    context: Context,
    caller: Planner,
    draws: Annotated[int, Form()] = 200,
    service_level: Annotated[int, Form(ge=50, le=100)] = 95,
    shortage_cost: Annotated[str, Form(max_length=20)] = "",
    surplus_cost: Annotated[str, Form(max_length=20)] = "",
    staging: Annotated[str, Form(max_length=10)] = "whole",
    seed: Annotated[int, Form()] = 0,
) -> Response:
    """Simulates the tolerances of nominal gaps in the background."""
    try:
        costs = {"shortage_cost": shortage_cost.strip() or None, "surplus_cost": surplus_cost.strip() or None}
        asked = {"draws": draws, "seed": seed, "staging": staging, **costs}
        by_cost = all(cost is not None for cost in costs.values())
        wanted = AllowanceRequest.model_validate(
            {**asked, "service_level": None if by_cost else service_level / 100}
        )
    except ValidationError as error:
        raise unusable_form(error) from None
    request_study_of_plan(context, caller, plan_id, "allowance", wanted)
    return go_to(f"/schedules/{plan_id}/options#allowance")


@router.get("/{kind}s")
def no_study_asked_for(plan_id: str, kind: StudyKind, caller: Reader) -> Response:
    """Where a form's faults were shown: to come back there without the form shows the sheet that it is on."""
    return go_to(f"/schedules/{plan_id}/options#{kind}")


@router.post("/{kind}s/{study_id}/cancel", dependencies=SAME_SITE_ONLY)
def cancel_study(plan_id: str, kind: StudyKind, study_id: str, context: Context, caller: Planner) -> Response:
    """Cancels a comparison, simulation or frontier."""
    cancel_unless_ended(context, caller, study_id, kind)
    return go_to(f"/schedules/{plan_id}/options#{kind}")


@router.get("/{kind}s/{study_id}/events")
def study_events(
    plan_id: str,
    kind: StudyKind,
    study_id: str,
    context: Context,
    caller: Reader,
    last_event_id: LastEventId = None,
) -> Response:
    """A study's progress as Server-Sent Events."""
    return event_stream(context, caller, study_id, kind, last_event_id)
