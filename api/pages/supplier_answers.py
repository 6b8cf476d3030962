"""The sheet that reads a supplier's answer to the plan's issued order, and puts it on record."""

from __future__ import annotations

import base64
import binascii
import zlib
from datetime import date
from typing import Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import uploading
from api.clock import today
from api.context import AppContext, Context
from api.events.service import whole_record
from api.http.problem_details import Problem
from api.orders.service import issued_orders
from api.pages.answers import PageRoute, go_to
from api.pages.offer_files import fields_and_files
from api.pages.sheets import sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.pages.supplier_answer_view import SupplierAnswerView, supplier_answer_view
from api.sending.answers import add_answer, answer_to
from optimiser.reading.ubl_document import LARGEST_BYTES

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)


@router.get("/answer")
def answer_page(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    added: Annotated[int | None, Query(ge=0, le=10**6)] = None,
) -> Response:
    """Where a supplier's document is sent; `added` says how many events were put on record just now."""
    return _sheet(request, context, caller, plan_id, added=added)


@router.post("/answer", dependencies=SAME_SITE_ONLY)
@uploading
async def read_or_record(plan_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """What the document answers, beside the order; or, where that was seen already, onto the record with it."""
    fields, files = await fields_and_files(request)
    return await to_thread.run_sync(_answered, request, context, caller, plan_id, fields, files)


def _answered(
    request: Request,
    context: AppContext,
    caller: Caller,
    plan_id: str,
    fields: dict[str, str],
    files: dict[str, bytes],
) -> Response:
    written = fields.get("received_on", "").strip()
    document = next(iter(files.values()), None) or _kept(fields.get("kept_document", ""))
    values: dict[str, Any] = {"received_on": written, "document": document}
    try:
        day = date.fromisoformat(written) if written else None
    except ValueError:
        values["told"] = f"The day of arrival is {written[:40]}: write it as 2027-03-01."
        return _sheet(request, context, caller, plan_id, 422, **values)
    if not document:
        values["told"] = "There is no document: choose the file that the supplier sent."
        return _sheet(request, context, caller, plan_id, 422, **values)
    try:
        if "record" in fields:
            put = add_answer(context, caller, plan_id, document, day)
            return go_to(f"/schedules/{plan_id}/answer?added={put.added}")
        job, answer = answer_to(context, caller, plan_id, document, day)
    except Problem as problem:
        if problem.status != 422:
            raise
        values |= {"document": None, "told": problem.detail, "faults": problem.more.get("errors", ())}
        return _sheet(request, context, caller, plan_id, 422, **values)
    plan = sheet_of(context, caller, plan_id, "answer").plan
    record = whole_record(context, caller, job.project_id)
    return _sheet(
        request, context, caller, plan_id, view=supplier_answer_view(plan, record, answer), **values
    )


def _sheet(
    request: Request,
    context: AppContext,
    caller: Caller,
    plan_id: str,
    status: int = 200,
    *,
    received_on: str = "",
    document: bytes | None = None,
    told: str = "",
    faults: Any = (),
    view: SupplierAnswerView | None = None,
    added: int | None = None,
) -> Response:
    sheet = sheet_of(context, caller, plan_id, "answer")
    revisions = issued_orders(context, caller, sheet.job.project_id) if sheet.revision is None else []
    answer = sheet_page(
        request,
        "supplier_answer.html",
        caller,
        sheet,
        issued=sheet.revision,
        last_issued=revisions[-1] if revisions else None,
        received_on=received_on,
        kept_document=_to_keep(document) if document and not faults else "",
        told=told,
        faults=faults,
        view=view,
        added=added,
        today=today(),
    )
    answer.status_code = status
    return answer


def _to_keep(document: bytes) -> str:
    """A document as text for the form's hidden field."""
    return base64.b64encode(zlib.compress(document)).decode()


def _kept(text: str) -> bytes:
    """The document of a form's hidden field; b'' where it holds none, or one that is larger than any that is read."""
    try:
        unpacking = zlib.decompressobj()
        document = unpacking.decompress(base64.b64decode(text, validate=True), LARGEST_BYTES)
    except (binascii.Error, ValueError, zlib.error):
        return b""
    return document if unpacking.eof else b""
