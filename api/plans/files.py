"""The files of a finished plan: its order in every form, cutting sheets, labels and drawings."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.http.freshness import STORED
from api.http.problem_details import Problem
from api.http.responses import File
from api.jobs.model import Job
from api.jobs.service import find_done_job, find_finished_job, find_job, stored_result_of
from api.limited_process import run_limited
from api.orders.chain import Issued
from api.orders.repository import PLAN, KeptDocument
from api.orders.service import Rendering, document_as_issued, find_issued, issued_until, newest_revision
from api.plans import documents
from api.plans.documents import FORMS, PAPERS, LabelOrder, Paper, Printing
from api.plans.renderings import Rendered, rendered

_SECONDS = 180  # a document of a large building, beside other work; it is made once
_RECORD_SECONDS = 300  # every document of a large building
ON_PAPER = ("order.pdf", "order.xlsx", "office.xlsx", "cutting-sheets.pdf", "labels.pdf", "re-measure.pdf")
SAYS_ITS_REVISION = (
    "order.pdf",
    "order.csv",
    "order.json",
    "order.xlsx",
    "office.xlsx",
    "cutting-sheets.pdf",
    "labels.pdf",
    "deliveries.csv",
    "deliveries.ics",
)
PRINTED: dict[str, Callable[[str, Printing], bytes]] = {
    "cutting-sheets": documents.cutting_sheets,
    "labels": documents.labels,
    "re-measure": documents.remeasure_sheet,
}


def plan_json(context: AppContext, caller: Caller, plan_id: str) -> File:
    """The whole plan. Raises Problem 404, or 409 while it is not done, as all of these do."""
    finished = _finished(context, caller, plan_id)
    name = _file_name("plan.json", plan_id, finished.printing)
    with context.storage.reading() as connection:
        kept = document_as_issued(connection, caller, plan_id, PLAN)
        if kept is None:
            return File(stored_result_of(connection, finished.job), "application/json", name, STORED)
    return File(kept.content, "application/json", name)


def order(context: AppContext, caller: Caller, plan_id: str, form: str, paper: Paper) -> File:
    """The order in one of FORMS. Raises Problem 409 when nothing is ordered and the form cannot say so."""
    name = f"order.{form}"
    if kept := _as_issued(context, caller, plan_id, name, paper):
        return kept
    finished = _finished(context, caller, plan_id)
    try:
        made = finished.rendered(documents.order_as, form, replace(finished.printing, paper=paper))
    except ValueError as error:
        raise Problem(409, "nothing-ordered", f"{error}.") from None
    return finished.file(made, FORMS[form], name)


def workbook(context: AppContext, caller: Caller, plan_id: str, paper: Paper) -> File:
    """What stands behind the order, as a workbook for the office."""
    name = "office.xlsx"
    if kept := _as_issued(context, caller, plan_id, name, paper):
        return kept
    finished = _finished(context, caller, plan_id)
    made = finished.rendered(documents.office_workbook, replace(finished.printing, paper=paper))
    return finished.file(made, FORMS["xlsx"], name)


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
    in the order of cutting or run by run. Raises Problem 422 for an unknown level.

    An extract of an issued plan is made from the plan as it was issued."""
    file = f"{name}.pdf"
    whole = not levels and not with_nominal and label_order == "cutting"
    if whole and (kept := _as_issued(context, caller, plan_id, file, paper)):
        return kept
    finished = _finished(context, caller, plan_id)
    printing = replace(
        finished.printing,
        paper=paper,
        levels=tuple(levels) if levels else None,
        with_nominal=with_nominal,
        label_order=label_order,
    )
    try:
        made = finished.rendered(PRINTED[name], printing)
    except ValueError as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    return finished.file(made, "application/pdf", file)


def deliveries(context: AppContext, caller: Caller, plan_id: str) -> File:
    """What comes together, as CSV: a row a delivery."""
    name = "deliveries.csv"
    if kept := _as_issued(context, caller, plan_id, name):
        return kept
    finished = _finished(context, caller, plan_id)
    return finished.file(finished.rendered(documents.deliveries_csv, finished.printing), FORMS["csv"], name)


def calendar(context: AppContext, caller: Caller, plan_id: str) -> File:
    """The deliveries and order dates for a calendar."""
    name = "deliveries.ics"
    if kept := _as_issued(context, caller, plan_id, name):
        return kept
    finished = _finished(context, caller, plan_id)
    made = finished.rendered(documents.deliveries_ics, finished.printing)
    return finished.file(made, documents.media_type_of(name), name)


def draft_calendar(context: AppContext, caller: Caller, plan_id: str) -> bytes:
    """The calendar of a plan that is not issued; every entry says that it is a draft."""
    return _finished(context, caller, plan_id).rendered(documents.draft_deliveries_ics).content


def precut(context: AppContext, caller: Caller, plan_id: str, draws: int, seed: int) -> bytes:
    """What cutting nominal levels ahead would scrap, beside cutting them on site, as JSON."""
    return _finished(context, caller, plan_id).rendered(documents.precut_json, draws, seed).content


def layout(context: AppContext, caller: Caller, plan_id: str, number: int) -> bytes:
    """A cutting layout, by its number, as SVG. Raises Problem 404 when the plan has none of this number."""
    try:
        return _finished(context, caller, plan_id).rendered(documents.layout_svg, number).content
    except IndexError:
        raise Problem(404, "not-found", f"Plan {plan_id} has no layout {number}.") from None


def elevation(context: AppContext, caller: Caller, plan_id: str, run: str) -> bytes:
    """A run as SVG, as it is fitted. Raises Problem 404 when the plan's project has no such run."""
    try:
        return _finished(context, caller, plan_id).rendered(documents.elevation_svg, run).content
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


def documents_for(context: AppContext, job: Job, plan: bytes) -> Rendering:
    """What makes the documents of a plan that is issued: all that it offers, on both papers at once."""

    def made(chain: tuple[Issued, ...]) -> tuple[KeptDocument, ...]:
        printing = _printing(context, job, chain)
        what = f"Revision {chain[-1]['revision']}, from survey version {job.project_version}, plan {job.id}"
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
    context: AppContext, caller: Caller, plan_id: str, name: str, paper: Paper = "A4"
) -> File | None:
    """A document in the very bytes that were issued; None where the plan was not issued, or before documents were kept.

    Of a superseded revision those that say their revision are None too: they are made, from the plan as it was issued,
    so that they say that they are superseded; the bytes that were issued are the revision's documents. Raises Problem
    409 when bytes were altered.
    """
    with context.storage.reading() as connection:
        job = find_job(connection, caller, plan_id, "plan")
        issued = find_issued(connection, caller, plan_id)
        if issued is None:
            return None
        printing = _printing(context, job, (issued,), newest_revision(connection, job.project_id))
        if printing.superseded_by and name in SAYS_ITS_REVISION:
            return None
        kept = document_as_issued(
            connection, caller, plan_id, documents.on_paper(name, paper) if name in ON_PAPER else name
        )
    return None if kept is None else File(kept.content, kept.media_type, _file_name(name, plan_id, printing))


@dataclass(frozen=True)
class _Finished:
    """A finished plan, and how its documents are printed: with its revision where it is issued."""

    context: AppContext
    caller: Caller
    job: Job
    printing: Printing

    def plan(self) -> str:
        """The plan as JSON text."""
        return finished_plan(self.context, self.caller, self.job.id)[1].decode()

    def rendered(self, work: Callable[..., bytes], *arguments: Any) -> Rendered:
        """What `work` makes of the plan, or made of it before."""
        return rendered(self.context, self.job.id, work, lambda: (self.plan(),), *arguments, seconds=_SECONDS)

    def file(self, made: Rendered, media_type: str, name: str) -> File:
        """A document under the name that it is saved by."""
        return File(made.coded, media_type, _file_name(name, self.job.id, self.printing), made.coding)


def _finished(context: AppContext, caller: Caller, plan_id: str) -> _Finished:
    """A finished plan. Raises Problem 404, or 409 while it is not done."""
    with context.storage.reading() as connection:
        job = find_done_job(connection, caller, plan_id, "plan")
        issued = find_issued(connection, caller, plan_id)
        chain = () if issued is None else issued_until(connection, caller, issued)
        newest = newest_revision(connection, job.project_id)
    return _Finished(context, caller, job, _printing(context, job, chain, newest))


def _printing(context: AppContext, job: Job, chain: Sequence[Issued] = (), newest: int = 0) -> Printing:
    """How a plan's documents are printed when it is issued as the last one of a `chain` of revisions (none: a draft)
    and `newest` is the last of all."""
    base = context.settings.base_address
    address = f"{base}/site/{job.project_id}/labels/" if base else ""
    if not chain:
        return Printing(address=address)
    issued = chain[-1]
    superseded = newest > issued["revision"]
    number = issued["revision"]
    return Printing(
        revision=str(number),
        superseded_by=str(newest) if superseded else "",
        issued_on=date.fromisoformat(issued["issued_at"][:10]),
        address=address,
        record=(
            f"A copy of revision {number} that says that it is superseded; what was issued is kept with it.",
        )
        if superseded
        else (),
        issued=tuple(json.dumps(one) for one in chain),
    )


def _file_name(name: str, plan_id: str, printing: Printing) -> str:
    """The name under which a document is saved; it says where a later revision superseded its own."""
    stem, _, form = name.rpartition(".")
    superseded = f"-revision-{printing.revision}-superseded" if printing.superseded_by else ""
    return f"{stem}-{plan_id[:8]}{superseded}.{form}"
