"""The files of a finished plan: its order in every form, cutting sheets, labels and drawings."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.http.responses import File
from api.jobs.service import find_finished_job
from api.limited_process import run_limited
from api.orders.service import find_issued, issued_until, newest_revision
from api.plans import documents
from api.plans.documents import FORMS, LabelOrder, Paper, Printing

_SECONDS = 60
PRINTED: dict[str, Callable[[str, Printing], bytes]] = {
    "cutting-sheets": documents.cutting_sheets,
    "labels": documents.labels,
    "re-measure": documents.remeasure_sheet,
}


def plan_json(context: AppContext, caller: Caller, plan_id: str) -> File:
    """The whole plan. Raises Problem 404, or 409 while it is not done, as all of these do."""
    plan, printing = _finished(context, caller, plan_id)
    return File(plan.encode(), "application/json", f"plan-{plan_id[:8]}{_superseded(printing)}.json")


def order(context: AppContext, caller: Caller, plan_id: str, form: str, paper: Paper) -> File:
    """The order in one of FORMS. Raises Problem 409 when nothing is ordered and the form cannot say so."""
    plan, printing = _finished(context, caller, plan_id)
    try:
        content = _rendered(context, documents.order_as, plan, form, replace(printing, paper=paper))
    except ValueError as error:
        raise Problem(409, "nothing-ordered", f"{error}.") from None
    return File(content, FORMS[form], f"order-{plan_id[:8]}{_superseded(printing)}.{form}")


def workbook(context: AppContext, caller: Caller, plan_id: str, paper: Paper) -> File:
    """What stands behind the order, as a workbook for the office."""
    plan, printing = _finished(context, caller, plan_id)
    content = _rendered(context, documents.plan_workbook, plan, replace(printing, paper=paper))
    return File(content, FORMS["xlsx"], f"plan-{plan_id[:8]}.xlsx")


def printed(
    context: AppContext,
    caller: Caller,
    plan_id: str,
    name: str,
    paper: Paper,
    levels: list[str] | None,
    with_nominal: bool,
    label_order: LabelOrder = "cutting",
) -> File:
    """Sheets of PRINTED as PDF, of some levels (None: all); nominal levels withheld, or marked `with_nominal`; labels
    in the order of cutting or run by run. Raises Problem 422 for an unknown level."""
    plan, printing = _finished(context, caller, plan_id)
    printing = replace(
        printing,
        paper=paper,
        levels=tuple(levels) if levels else None,
        with_nominal=with_nominal,
        label_order=label_order,
    )
    try:
        content = _rendered(context, PRINTED[name], plan, printing)
    except ValueError as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    return File(content, "application/pdf", f"{name}-{plan_id[:8]}{_superseded(printing)}.pdf")


def deliveries(context: AppContext, caller: Caller, plan_id: str) -> File:
    """What comes together, as CSV: a row a delivery."""
    plan, printing = _finished(context, caller, plan_id)
    content = _rendered(context, documents.deliveries_csv, plan, printing)
    return File(content, FORMS["csv"], f"deliveries-{plan_id[:8]}{_superseded(printing)}.csv")


def layout(context: AppContext, caller: Caller, plan_id: str, number: int) -> bytes:
    """A cutting layout, by its number, as SVG. Raises Problem 404 when the plan has none of this number."""
    plan, _ = _finished(context, caller, plan_id)
    try:
        return _rendered(context, documents.layout_svg, plan, number)
    except IndexError:
        raise Problem(404, "not-found", f"Plan {plan_id} has no layout {number}.") from None


def elevation(context: AppContext, caller: Caller, plan_id: str, run: str) -> bytes:
    """A run as SVG, as it is fitted. Raises Problem 404 when the plan's project has no such run."""
    plan, _ = _finished(context, caller, plan_id)
    try:
        return _rendered(context, documents.elevation_svg, plan, run)
    except KeyError:
        raise Problem(404, "not-found", f"Plan {plan_id} has no run {run[:40]}.") from None


def _finished(context: AppContext, caller: Caller, plan_id: str) -> tuple[str, Printing]:
    """A plan as JSON text, and how its documents are printed: with its revision where it is issued."""
    with context.storage.reading() as connection:
        job, plan = find_finished_job(connection, caller, plan_id, "plan")
        issued = find_issued(connection, caller, plan_id)
        chain = () if issued is None else issued_until(connection, caller, issued)
        newest = newest_revision(connection, job.project_id)
    base = context.settings.base_address
    address = f"{base}/site/{job.project_id}/labels/" if base else ""
    if issued is None:
        return plan.decode(), Printing(address=address)
    issued_on = date.fromisoformat(issued["issued_at"][:10])
    return plan.decode(), Printing(
        revision=str(issued["revision"]),
        superseded_by=str(newest) if newest > issued["revision"] else "",
        issued_on=issued_on,
        address=address,
        issued=tuple(json.dumps(one) for one in chain),
    )


def _superseded(printing: Printing) -> str:
    """What the name of a file says of its revision where a later one superseded it."""
    return f"-revision-{printing.revision}-superseded" if printing.superseded_by else ""


def _rendered(context: AppContext, work: Callable[..., bytes], *arguments: Any) -> bytes:
    made: bytes = run_limited(work, *arguments, seconds=_SECONDS, megabytes=context.settings.job_megabytes)
    return made
