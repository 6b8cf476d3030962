"""A sheet of a finished plan: its frame, what every sheet shows, and the places that addresses name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.context import AppContext
from api.jobs.model import Job
from api.orders import service as orders
from api.pages.answers import page
from api.pages.frame import Frame, frame_of
from api.pages.plan_source import PlanSource, source_of
from api.projects.service import get_project
from optimiser.model.plan import Plan
from optimiser.planning.grouped_places import grouped_places


@dataclass(frozen=True)
class Sheet:
    """A finished plan with its frame, as a sheet shows it."""

    plan: Plan
    frame: Frame
    job: Job
    source: PlanSource
    revision: int | None


def sheet_of(context: AppContext, caller: Caller, plan_id: str, here: str) -> Sheet:
    """A finished plan. Raises Problem 404, or 409 while it is not done."""
    source = source_of(context, caller, plan_id)
    row, plan = source.job, source.plan
    building = get_project(context, caller, row.project_id)
    issued, newest = orders.issued_and_newest(context, caller, row)
    revision = issued["revision"] if issued else None
    frame = frame_of(
        plan,
        plan_id=plan_id,
        building_id=row.project_id,
        survey=row.project_version,
        newest_survey=building.version,
        planned_at=row.finished_at,
        revision=revision,
        newest_revision=newest,
        here=here,
    )
    return Sheet(plan, frame, row, source, revision)


def sheet_page(request: Request, template: str, caller: Caller, sheet: Sheet, **values: Any) -> Response:
    """A sheet's template, with what every sheet of a plan shows."""
    return page(
        request,
        template,
        caller=caller,
        frame=sheet.frame,
        plan=sheet.plan,
        places=grouped_places(sheet.plan.not_planned),
        statuses={level.level: level for level in sheet.plan.levels},
        forecast=[level.level for level in sheet.plan.levels if level.status == "forecast"],
        **values,
    )


def place_named(named: str, names: list[str], what: str) -> int:
    """The place, counted from 1, of what an address names; a name comes before a place. Raises IndexError."""
    if named in names:
        return names.index(named) + 1
    if named.isascii() and named.isdigit() and len(named) < 9:
        return int(named)
    raise IndexError(f"The building has no {what} {named[:60]}.")
