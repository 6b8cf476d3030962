"""Offers of suppliers side by side for what a plan orders: made while the request waits, and not kept."""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from api import clock
from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.steps import CannotBePlanned
from api.limited_process import LimitReached, run_limited
from api.plans.files import finished_plan
from optimiser.model.money import Money
from optimiser.model.offer import Offer

_SECONDS = 120


class SuppliersRequest(BaseModel):
    """Which offers to compare for what a plan orders, on the day of ordering."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "offers": [
                    {
                        "supplier": "Second Supplier (invented)",
                        "currency": "AUD",
                        "freight": "45.00",
                        "prices": [{"code": "B-100", "price": "39.50", "lead_days": 10}],
                    }
                ],
                "on": "2027-01-11",
            }
        },
    )
    offers: list[Offer] = Field(min_length=1, max_length=50)
    on: date | None = Field(default=None, description="Prices must hold on it; null: today.")


class WholeFromOne(BaseModel):
    """All that is needed from one supplier, or the cheapest split: `total` is goods and freight, `more` what it costs
    more than that split, `fall_share` by what share its prices must fall to cost no more; null where it cannot be."""

    supplier: str
    goods: Money | None
    freight: Money | None
    total: Money | None
    more: Money | None
    fall_share: float | None
    why_not: str


class ProductFromOne(BaseModel):
    """All of a product from one supplier: `fall` is what each pack's price must fall by for that to cost no more,
    `bought` the packs that the cheapest split takes from it; null where it cannot be."""

    code: str
    needed: int
    supplier: str
    reference: str
    per_pack: int
    lead_days: int
    packs: int | None
    amount: Money | None
    more: Money | None
    fall: Money | None
    fall_share: float | None
    bought: int
    why_not: str


class BoughtInSplit(BaseModel):
    """What the cheapest split buys of a product for a delivery."""

    supplier: str
    code: str
    deliver_on: date | None
    packs: int
    price: Money
    amount: Money


class SuppliersCompared(BaseModel):
    """The cheapest split first among `wholes`; no split can cost less than `lower_bound`. `missing`: why the offers
    together cannot bring what is needed."""

    currency: str
    ordered_on: date
    lower_bound: Money | None
    wholes: list[WholeFromOne]
    products: list[ProductFromOne]
    split: list[BoughtInSplit]
    missing: list[str]


def compared_suppliers(
    context: AppContext, caller: Caller, plan_id: str, wanted: SuppliersRequest
) -> SuppliersCompared:
    """The offers side by side. Raises Problem 404, 409 while the plan is not done, 422 for offers that cannot be
    compared."""
    _, plan = finished_plan(context, caller, plan_id)
    on = wanted.on or clock.today()
    try:
        text: str = run_limited(
            compare_in_process,
            plan.decode(),
            wanted.model_dump_json(include={"offers"}),
            on,
            seconds=_SECONDS,
            megabytes=context.settings.job_megabytes,
        )
    except CannotBePlanned as error:
        raise Problem(422, "unusable-input", f"{error}.") from None
    except LimitReached as reached:
        words = f"The comparison needed more {reached.limit} than it is given: send fewer offers at a time."
        raise Problem(422, "limit-reached", words) from None
    return SuppliersCompared.model_validate_json(text)


def compare_in_process(plan: str, offers: str, on: date) -> str:
    """The comparison as JSON text; runs in a limited process. Raises CannotBePlanned for offers in another currency, or
    two of one supplier."""
    from optimiser.model.money import from_cents
    from optimiser.model.plan import Plan
    from optimiser.ordering.supplier_comparison import compare_suppliers
    from optimiser.tables.suppliers import BOUGHT_PACKS, OFFERED_PRODUCTS, WHOLE_ORDERS
    from optimiser.writing.data.suppliers_csv import bought_packs, offered_products, whole_orders

    def rows(columns: Any, of: Any) -> list[dict[str, Any]]:
        return [{column.name: column.of(row) for column in columns} for row in of]

    made = Plan.model_validate_json(plan)
    try:
        found = compare_suppliers(made, SuppliersRequest.model_validate_json(offers).offers, on)
    except ValueError as error:
        raise CannotBePlanned(str(error)) from None
    compared = {
        "currency": found.currency,
        "ordered_on": found.ordered_on,
        "lower_bound": None if found.best is None else from_cents(found.best.least_cents),
        "wholes": rows(WHOLE_ORDERS, whole_orders(found)),
        "products": rows(OFFERED_PRODUCTS, offered_products(found)),
        "split": rows(BOUGHT_PACKS, bought_packs(found)),
        "missing": list(found.missing),
    }
    return SuppliersCompared.model_validate(compared).model_dump_json()
