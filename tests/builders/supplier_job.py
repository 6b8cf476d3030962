"""An invented job whose order has everything that one can have: price breaks, two boards, truck limits, several trucks
on a day, levels that are still nominal, two rates of tax, parties with addresses, terms; and a second revision."""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal
from functools import cache
from typing import Any

from optimiser.model.parties import Party
from optimiser.model.plan import Plan
from optimiser.model.project import Board, PriceBreak, Project
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.purchase_order import Issue, purchase_order
from optimiser.planning.plan import plan
from tests.builders.forecast import forecast_project

FIRST_ISSUED, SECOND_ISSUED = date(2027, 1, 11), date(2027, 1, 25)

PARTIES = (
    Party(
        party="buyer", address="Quarry Road 1", postcode="2000", city="Newport", country="AU", contact="A. Buyer",
        telephone="+61 2 5550 0100", email="orders@buyer.invalid", tax_number="11 000 000 001",
    ),
    Party(
        party="supplier", address="Mill Street 7", postcode="2100", city="Oldbridge", country="AU",
        contact="B. Seller", telephone="+61 2 5550 0200", email="sales@supplier.invalid", tax_number="11 000 000 002",
    ),
    Party(
        party="deliver_to", address="Gate 2, Quarry Yard", postcode="2000", city="Newport", country="AU",
        contact="C. Foreman", telephone="+61 2 5550 0300",
    ),
)  # fmt: skip

TERMS: dict[str, Any] = {
    "payment_terms": "30 days from the end of the month",
    "contract_reference": "QY-C-7",
    "supplier_reference": "Q-2027-041",
    "delivery_from": time(7),
    "delivery_until": time(11),
    "unloading": "By the site's crane at gate 2, one truck at a time; call the foreman 30 minutes ahead",
    "tax_name": "GST",
    "tax_rate": Decimal("0.10"),
}


def supplier_job(**changes: Any) -> Project:
    """Four levels of which two are nominal. The runs to the east are of a second, thinner board; a truck takes 3
    pallets of one pack, so that most days need more than one truck. Tape has a tax rate of its own. `changes` are the
    project's.
    """
    project = forecast_project(truck_pallets=3, truck_payload_kg=250, storage_cost=None)
    thin = Board(
        code="B-90", length_mm=1200, width_mm=600, thickness_mm=90, per_pack=3, price=Decimal("96.40"), lead_days=15,
        pack_name="pallet", weight_kg=Decimal("6.5"),
    )  # fmt: skip
    products = tuple(
        product.model_copy(update={"tax_rate": Decimal("0.055")}) if product.kind == "tape" else product
        for product in project.products
    )
    runs = tuple(
        run.model_copy(update={"board": ("B-90",)}) if run.run.endswith("E") else run for run in project.runs
    )
    values = {
        **{name: getattr(project, name) for name in Project.model_fields},
        "project": project.project.model_copy(update={**TERMS, "deliver_to": "Quarry Yard (invented)"}),
        "products": (*products, thin),
        "runs": runs,
        "parties": PARTIES,
        "price_breaks": (
            PriceBreak(code="B-120", from_packs=2, price=Decimal("204.35")),
            PriceBreak(code="B-90", from_packs=2, price=Decimal("91.15")),
            PriceBreak(code="K-120", from_packs=2, price=Decimal("57.33")),
        ),
        **changes,
    }
    return Project(**values)


@cache
def supplier_plan() -> Plan:
    """The plan of `supplier_job`."""
    return plan(supplier_job())


@cache
def first_order() -> PurchaseOrder:
    """Its order as it is issued first."""
    return purchase_order(supplier_plan(), Issue(1, FIRST_ISSUED))


@cache
def second_plan() -> Plan:
    """The plan after L03 is measured, a bit wider than drawn, and L04 is called off."""
    project = supplier_job()
    gaps = tuple(
        gap.model_copy(update={"basis": "measured", "tolerance_mm": None, "gap_mm": gap.gap_mm + 9})
        if gap.run.startswith("L03")
        else gap
        for gap in project.gaps
        if not gap.run.startswith("L04")
    )
    runs = tuple(run for run in project.runs if run.level != "L04")
    levels = tuple(level for level in project.levels if level.level != "L04")
    return plan(supplier_job(gaps=gaps, runs=runs, levels=levels))


@cache
def second_order() -> PurchaseOrder:
    """The order of `second_plan`, which replaces the first."""
    return purchase_order(second_plan(), Issue(2, SECOND_ISSUED, first_order()))
