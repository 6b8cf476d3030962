"""The report of what was fitted and seen, from a plan, the record of its job and the photographs."""

from __future__ import annotations

import json

from api import clock
from api.accounts.service import Caller
from api.context import AppContext
from api.events.service import record_of
from api.http.problem_details import Problem
from api.http.responses import File
from api.inspection.making import report
from api.limited_process import run_limited
from api.photographs.service import photographs_as_json, pictures_of
from api.plans.documents import FORMS, Paper
from api.plans.files import find_finished_plan


def inspection_report(
    context: AppContext, caller: Caller, plan_id: str, form: str, paper: Paper, levels: list[str] | None
) -> File:
    """The report of some levels of a plan's job (None: all) as 'pdf' or 'csv'.

    Raises Problem 404, 409 while the plan is not done, 422 for an unknown level.
    """
    with context.storage.reading() as connection:
        job, plan = find_finished_plan(connection, caller, plan_id)
        record = record_of(connection, job.project_id)
        photographs = photographs_as_json(connection, job.project_id)
        pictures = {}
        if form == "pdf":
            pictures = pictures_of(connection, job.project_id, _pieces(plan, levels), ("joint", "bracket"))
    chosen = tuple(levels) if levels else None
    try:
        content: bytes = run_limited(
            report,
            plan.decode(),
            record,
            json.dumps(photographs),
            pictures,
            chosen,
            form,
            paper,
            clock.today().isoformat(),
            seconds=60,
            megabytes=context.settings.job_megabytes,
        )
    except ValueError as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    return File(content, FORMS[form], f"inspection-{plan_id[:8]}.{form}")


def _pieces(plan: bytes, levels: list[str] | None) -> set[str]:
    """The ids of a plan's pieces on some levels (None: all)."""
    pieces = json.loads(plan)["pieces"]
    return {piece["id"] for piece in pieces if levels is None or piece["level"] in levels}
