"""A supplier's prices into a building's survey: what they would change, and kept as the next version."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from anyio import to_thread
from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.accounts.service import Caller
from api.admission import uploading
from api.clock import today
from api.context import AppContext, Context
from api.pages.answers import PageRoute, go_to, page
from api.pages.offer_files import fields_and_files, kept_text, offers_of
from api.pages.sign_in import SAME_SITE_ONLY, Planner
from api.pages.surveys import NAMES, SHOWN
from api.plans.making import PlanOptions
from api.plans.service import plan_newer_survey
from api.projects.pricing import CannotBePriced, PricedSurvey, priced_survey
from api.projects.service import get_project, keep_version, version_document
from api.projects.uploads import limited
from optimiser.model.offer import Offer

router = APIRouter(prefix="/buildings/{building_id}", route_class=PageRoute, include_in_schema=False)


@dataclass(frozen=True)
class Asked:
    """What the form holds: the offers, whose prices are to be taken over ('': not said), the day on which they must
    hold, as it was written, and what is wrong with any of it."""

    offers: tuple[Offer, ...] = ()
    supplier: str = ""
    on: str = ""
    faults: tuple[str, ...] = ()


@router.get("/prices")
def prices_page(building_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """Where a supplier's quotation, catalogue or price list is sent."""
    return _page(request, caller, get_project(context, caller, building_id), Asked())


@router.post("/prices", dependencies=SAME_SITE_ONLY)
@uploading
async def see_or_save(building_id: str, request: Request, context: Context, caller: Planner) -> Response:
    """What the prices would change; or, where that was seen already, the survey with them as the next version."""
    fields, files = await fields_and_files(request)
    return await to_thread.run_sync(_priced, request, context, caller, building_id, fields, files)


def _priced(
    request: Request,
    context: AppContext,
    caller: Caller,
    building_id: str,
    fields: dict[str, str],
    files: dict[str, bytes],
) -> Response:
    row = get_project(context, caller, building_id)
    offers, faults = offers_of(context, fields, files)
    written, supplier = fields.get("on", "").strip(), fields.get("supplier", "")
    try:
        on = date.fromisoformat(written) if written else today()
    except ValueError:
        on = today()
        faults.append(f"the day is {written[:40]}: write it as 2027-03-01")
    if not offers and not faults:
        faults.append("there is no offer: choose the supplier's file")
    of_supplier = [offer for offer in offers if len(offers) == 1 or offer.supplier == supplier]
    asked = Asked(offers, of_supplier[0].supplier if of_supplier else "", written, tuple(faults))
    if faults:
        return _page(request, caller, row, asked, 422)
    if not of_supplier:
        return _page(request, caller, row, asked, told="Choose whose prices are taken over.")
    text = version_document(context, caller, building_id, row.version).decode()
    try:
        priced = limited(context, priced_survey, text, of_supplier[0].model_dump_json(), on)
    except CannotBePriced as error:
        asked = Asked(offers, asked.supplier, written, (str(error),))
        return _page(request, caller, row, asked, 422)
    wanted = fields.keys() & {"save", "plan"}
    if wanted and fields.get("version") != str(row.version):
        told = f"Survey {row.version} was kept meanwhile, and nothing was saved: see what would change in it."
        return _page(request, caller, row, asked, 412, told, priced)
    if not wanted or not priced.changed:
        return _page(request, caller, row, asked, priced=priced)
    if "plan" in wanted:
        options = PlanOptions()
        plan_id = plan_newer_survey(
            context, caller, building_id, row.version, priced.project, options, priced.changed
        )
        return go_to(f"/schedules/{plan_id}")
    newest = keep_version(context, caller, building_id, row.version, priced.project, priced.changed)
    return go_to(f"/buildings/{building_id}/surveys/{newest}")


def _page(
    request: Request,
    caller: Caller,
    building: Any,
    asked: Asked,
    status: int = 200,
    told: str = "",
    priced: PricedSurvey | None = None,
) -> Response:
    changes: Sequence[Any] = priced.changes if priced else ()
    return page(
        request,
        "prices.html",
        status,
        caller=caller,
        building=building,
        asked=asked,
        kept_offers=kept_text(asked.offers),
        told=told,
        priced=priced,
        changes=changes[:SHOWN],
        more=max(0, len(changes) - SHOWN),
        names=NAMES,
    )
