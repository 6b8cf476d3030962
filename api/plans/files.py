"""The files of a finished plan: its order in every form, cutting sheets, labels and drawings."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from typing import Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.http.responses import File
from api.jobs.model import Job
from api.jobs.service import find_finished_job, find_job
from api.limited_process import run_limited
from api.orders.repository import PLAN, KeptDocument
from api.orders.service import Heading, document_as_issued, find_issued
from api.plans import documents
from api.plans.documents import FORMS, PAPERS, Paper, Printing

_SECONDS = 60
_RECORD_SECONDS = 300  # every document of a large building
ON_PAPER = ("order.pdf", "order.xlsx", "cutting-sheets.pdf", "labels.pdf", "re-measure.pdf")
PRINTED: dict[str, Callable[[str, Printing], bytes]] = {
    "cutting-sheets": documents.cutting_sheets,
    "labels": documents.labels,
    "re-measure": documents.remeasure_sheet,
}


def plan_json(context: AppContext, caller: Caller, plan_id: str) -> File:
    """The whole plan. Raises Problem 404, or 409 while it is not done, as all of these do."""
    plan, _ = _finished(context, caller, plan_id)
    return File(plan.encode(), "application/json", f"plan-{plan_id[:8]}.json")


def order(context: AppContext, caller: Caller, plan_id: str, form: str, paper: Paper) -> File:
    """The order in one of FORMS. Raises Problem 409 when nothing is ordered and the form cannot say so."""
    file = f"order-{plan_id[:8]}.{form}"
    if kept := _as_issued(context, caller, plan_id, f"order.{form}", paper, file):
        return kept
    plan, printing = _finished(context, caller, plan_id)
    try:
        content = _rendered(context, documents.order_as, plan, form, replace(printing, paper=paper))
    except ValueError as error:
        raise Problem(409, "nothing-ordered", f"{error}.") from None
    return File(content, FORMS[form], file)


def printed(
    context: AppContext,
    caller: Caller,
    plan_id: str,
    name: str,
    paper: Paper,
    levels: list[str] | None,
    with_nominal: bool,
) -> File:
    """Sheets of PRINTED as PDF, of some levels (None: all); nominal levels withheld, or marked `with_nominal`. Raises
    Problem 422 for an unknown level.

    An extract of an issued plan is made from the plan as it was issued."""
    file = f"{name}-{plan_id[:8]}.pdf"
    whole = not levels and not with_nominal
    if whole and (kept := _as_issued(context, caller, plan_id, f"{name}.pdf", paper, file)):
        return kept
    plan, printing = _finished(context, caller, plan_id)
    printing = replace(
        printing, paper=paper, levels=tuple(levels) if levels else None, with_nominal=with_nominal
    )
    try:
        content = _rendered(context, PRINTED[name], plan, printing)
    except ValueError as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    return File(content, "application/pdf", file)


def deliveries(context: AppContext, caller: Caller, plan_id: str) -> File:
    """What comes together, as CSV: a row a delivery."""
    file = f"deliveries-{plan_id[:8]}.csv"
    if kept := _as_issued(context, caller, plan_id, "deliveries.csv", "A4", file):
        return kept
    plan, _ = _finished(context, caller, plan_id)
    return File(_rendered(context, documents.deliveries_csv, plan), FORMS["csv"], file)


def calendar(context: AppContext, caller: Caller, plan_id: str) -> File:
    """The deliveries and order dates for a calendar."""
    file = f"deliveries-{plan_id[:8]}.ics"
    if kept := _as_issued(context, caller, plan_id, "deliveries.ics", "A4", file):
        return kept
    plan, _ = _finished(context, caller, plan_id)
    content = _rendered(context, documents.deliveries_ics, plan)
    return File(content, documents.media_type_of(file), file)


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


def finished_plan(context: AppContext, caller: Caller, plan_id: str) -> tuple[Job, bytes]:
    """A finished plan, as `find_finished_plan`."""
    with context.storage.reading() as connection:
        return find_finished_plan(connection, caller, plan_id)


def find_finished_plan(connection: sa.Connection, caller: Caller, plan_id: str) -> tuple[Job, bytes]:
    """A finished plan and its JSON; of an issued one the very plan that was issued. Raises Problem 404, or 409 while
    it is not done or when what was issued was altered."""
    job, plan = find_finished_job(connection, caller, plan_id, "plan")
    kept = document_as_issued(connection, caller, plan_id, PLAN)
    return job, plan if kept is None else kept.content


def documents_for(
    context: AppContext, job: Job, plan: bytes
) -> Callable[[Heading], tuple[KeptDocument, ...]]:
    """What makes the documents of a plan that is issued: all that it offers, on both papers at once."""

    def made(heading: Heading) -> tuple[KeptDocument, ...]:
        printing = _printing(context, job, heading.revision, heading.issued_at)
        what = f"Revision {heading.revision}, from survey version {job.project_version}, plan {job.id}"
        text = plan.decode()

        def on(paper: Paper) -> dict[str, bytes]:
            found: dict[str, bytes] = run_limited(
                documents.documents_of_record,
                text,
                replace(printing, paper=paper),
                what,
                seconds=_RECORD_SECONDS,
                megabytes=context.settings.job_megabytes,
            )
            return found

        with ThreadPoolExecutor(2) as papers:
            made = [file for found in papers.map(on, PAPERS) for file in found.items()]
        return tuple(KeptDocument(name, documents.media_type_of(name), content) for name, content in made)

    return made


def _as_issued(
    context: AppContext, caller: Caller, plan_id: str, name: str, paper: Paper, file: str
) -> File | None:
    """A document in the very bytes that were issued; None where the plan was not issued, or before documents were kept:
    they are then made from the plan that is kept. Raises Problem 409 when the bytes were altered."""
    with context.storage.reading() as connection:
        find_job(connection, caller, plan_id, "plan")
        kept = document_as_issued(connection, caller, plan_id, documents.on_paper(name, paper)) or (
            None if name in ON_PAPER else document_as_issued(connection, caller, plan_id, name)
        )
    return None if kept is None else File(kept.content, kept.media_type, file)


def _finished(context: AppContext, caller: Caller, plan_id: str) -> tuple[str, Printing]:
    """A plan as JSON text, and how its documents are printed: with its revision where it is issued."""
    job, plan = finished_plan(context, caller, plan_id)
    with context.storage.reading() as connection:
        issued = find_issued(connection, caller, plan_id)
    if issued is None:
        return plan.decode(), _printing(context, job)
    return plan.decode(), _printing(context, job, issued["revision"], issued["issued_at"])


def _printing(context: AppContext, job: Job, revision: int = 0, issued_at: str = "") -> Printing:
    base = context.settings.base_address
    address = f"{base}/site/{job.project_id}/labels/" if base else ""
    if not revision:
        return Printing(address=address)
    issued_on = date.fromisoformat(issued_at[:10])
    return Printing(revision=str(revision), issued_on=issued_on, address=address)


def _rendered(context: AppContext, work: Callable[..., bytes], *arguments: Any) -> bytes:
    made: bytes = run_limited(work, *arguments, seconds=_SECONDS, megabytes=context.settings.job_megabytes)
    return made
