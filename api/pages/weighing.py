"""A plan weighed: cut ahead or on site, level by level; and several suppliers for what it orders."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Annotated

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import rendering, uploading
from api.context import AppContext, Context
from api.http.problem_details import Problem
from api.pages.answers import PageRoute
from api.pages.offer_files import fields_and_files, kept_text, offers_of
from api.pages.sheets import sheet_of, sheet_page
from api.pages.sign_in import SAME_SITE_ONLY, Planner, Reader
from api.plans import files
from api.plans.schemas import PrecutComparison
from api.studies.suppliers import SuppliersCompared, SuppliersRequest, compared_suppliers
from optimiser.model.offer import Offer

router = APIRouter(prefix="/schedules/{plan_id}", route_class=PageRoute, include_in_schema=False)


@router.get("/precut")
@rendering
def precut_page(
    plan_id: str,
    request: Request,
    context: Context,
    caller: Reader,
    draws: Annotated[int, Query(ge=1, le=5000)] = 200,
    seed: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0,
) -> Response:
    """What cutting nominal levels ahead is expected to scrap, beside cutting them on site after measuring."""
    sheet = sheet_of(context, caller, plan_id, "options")
    found = PrecutComparison.model_validate(json.loads(files.precut(context, caller, plan_id, draws, seed)))
    trims = all(detail.trim for detail in sheet.plan.project.building.details_in_use.values())
    return sheet_page(request, "precut.html", caller, sheet, found=found, trims=trims)


@router.get("/suppliers")
def suppliers_page(plan_id: str, request: Request, context: Context, caller: Reader) -> Response:
    """Where suppliers' offers are sent."""
    return _suppliers(request, context, caller, plan_id, (), "")


@router.post("/suppliers", dependencies=SAME_SITE_ONLY)
@uploading
async def compare_offers(plan_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """The offers side by side; what cannot be used is told, and the offers that could be read are kept."""
    fields, sent = await fields_and_files(request)
    return await to_thread.run_sync(_compared, request, context, caller, plan_id, fields, sent)


def _compared(
    request: Request,
    context: AppContext,
    caller: Caller,
    plan_id: str,
    fields: dict[str, str],
    sent: dict[str, bytes],
) -> Response:
    offers, faults = offers_of(context, fields, sent)
    written = fields.get("on", "").strip()
    on: date | None = None
    try:
        on = date.fromisoformat(written) if written else None
    except ValueError:
        faults.append(f"the day of ordering is {written[:40]}: write it as 2027-03-01")
    if not offers and not faults:
        faults.append("there is no offer: choose the file of one")
    found = None
    if not faults:
        try:
            wanted = SuppliersRequest(offers=list(offers), on=on)
            found = compared_suppliers(context, caller, plan_id, wanted)
        except Problem as problem:
            if problem.status != 422:
                raise
            faults.append(problem.detail)
    return _suppliers(request, context, caller, plan_id, offers, written, found, faults)


def _suppliers(
    request: Request,
    context: AppContext,
    caller: Caller,
    plan_id: str,
    offers: Sequence[Offer],
    on: str,
    found: SuppliersCompared | None = None,
    faults: Sequence[str] = (),
) -> Response:
    sheet = sheet_of(context, caller, plan_id, "options")
    return sheet_page(
        request,
        "suppliers.html",
        caller,
        sheet,
        offers=offers,
        kept_offers=kept_text(offers),
        on=on,
        found=found,
        faults=faults,
    )
