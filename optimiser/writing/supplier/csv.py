"""`order.csv`: the supplier's order as a flat table; `deliveries.csv`: what comes together, for the buyer. For any
spreadsheet or purchasing system.

`order.csv`, a row a line of the order; the first eleven columns and the last four hold the same in every row:

| column | what |
| --- | --- |
| document, order_reference, revision, issued_on | the document's own name, the order's, its revision (empty: a draft) |
| superseded_by, replaces | the newest revision where that is a later one; the document that it replaces |
| buyer, supplier, deliver_to | names, from the project |
| deliver_from, deliver_until | the time of day between which a truck may come |
| line | its number, which stays from revision to revision |
| truckload, deliver_on | what one truck brings, counted over the order from 1; its day, ISO 8601 |
| status, confirm_by | firm, or forecast: may still change; the day by which its quantity will be known |
| level | the levels that it is for |
| kind, code, description | what is ordered |
| packs, per_pack, pack_name | packs, and what is in one |
| list_price, from_packs | of one pack before price breaks; from how many packs in one delivery its price holds |
| price, amount | of one pack; packs times price, before tax |
| tax_rate | a rate: 0.1 of a tenth; empty where it is not stated |
| weight_kg | of the line's packs; empty where the product's weight is not known |
| change | of a revision: unchanged, revised, added or cancelled |
| packs_before, price_before, deliver_on_before, status_before | of a revision: what the one that it replaces said |
| subtotal, tax, total, currency | of the whole order; the tax by rate is rounded once a rate; ISO 4217 |

`deliveries.csv`, a row a delivery:

| column | what |
| --- | --- |
| delivery | counted from 1 |
| levels, status, measure_by | the levels that it serves; firm, forecast or both; the first day to measure one of them |
| deliver_on, order_by | ISO 8601 dates; empty where its levels have none |
| trucks, pallets, weight_kg | its loads, and what they hold; empty where the project does not say |
| amount, delivery_cost | of its packs; of its loads, empty without a `delivery_cost` of the project |
| face_m2, floor_m2, site_weight_kg, floor_load_kg_m2 | what stands on site when it is there, before it is cut |
| floor_load_kept | whether the floor carries that; empty without a `floor_load_kg_m2` of the project |
| total_cost, proved_minimum | goods, loads, storage and waiting of the whole plan, and its lower bound: in every row |
| currency | ISO 4217 |
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from optimiser.model.order import Delivery, OnSite
from optimiser.model.plan import Plan
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.tables.columns import CURRENCY, Column, constant
from optimiser.tables.deliveries import (
    AMOUNT,
    CARRIED_BY,
    DELIVER_ON,
    LEVELS,
    ORDER_BY,
    firmness,
    loads_cost,
)
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.purchase_lines import PURCHASE_LINES, rows_of
from optimiser.tables.text import csv_of


def _heading(order: PurchaseOrder) -> Iterator[Column]:
    """What stands before the lines in every row."""
    opens, closes = order.delivery_from, order.delivery_until
    for name, heading, value in (
        ("document", "Document", order.document),
        ("order_reference", "Order", order.reference),
        ("revision", "Revision", order.revision),
        ("issued_on", "Issued on", order.issued_on),
        ("superseded_by", "Superseded by", order.superseded_by),
        ("replaces", "Replaces", order.replaces.document if order.replaces else None),
        ("buyer", "Buyer", order.buyer.name),
        ("supplier", "Supplier", order.supplier.name),
        ("deliver_to", "Deliver to", order.deliver_to.name),
        ("deliver_from", "Deliver from", None if opens is None else f"{opens:%H:%M}"),
        ("deliver_until", "Deliver until", None if closes is None else f"{closes:%H:%M}"),
    ):
        yield constant(Column(name, heading), value)


def _sums(order: PurchaseOrder) -> Iterator[Column]:
    """What stands behind the lines in every row."""
    yield constant(Column("subtotal", "Subtotal", "money"), order.subtotal)
    yield constant(Column("tax", "Tax", "money"), order.tax if order.taxed else None)
    yield constant(Column("total", "Total", "money"), order.total)
    yield constant(CURRENCY, order.currency)


def order_csv(order: PurchaseOrder) -> str:
    """The text of `order.csv` (RFC 4180: commas, CRLF), one row a line."""
    return csv_of((*_heading(order), *PURCHASE_LINES, *_sums(order)), rows_of(order))


def deliveries_csv(plan: Plan) -> str:
    """The text of `deliveries.csv` (RFC 4180: commas, CRLF), one row a delivery."""
    return csv_of(tuple(_delivery_columns(plan)), list(enumerate(plan.deliveries, start=1)))


Numbered = tuple[int, Delivery]
"""A delivery with its number, from 1."""


def _delivery_columns(plan: Plan) -> Iterator[Column]:
    by_name = {level.level: level for level in plan.levels}
    there = {moment.day: moment for moment in plan.on_site}
    limits, costs = plan.project.delivery_limits, plan.delivery_costs
    each = limits.delivery_cost if limits else None

    def of(column: Column) -> Column:
        return replace(column, value=lambda row: column.of(row[1]))

    def on_its_day(column: Column) -> Column:
        def value(row: Numbered) -> Any:
            moment: OnSite | None = there.get(row[1].deliver_on) if row[1].deliver_on else None
            return None if moment is None else column.of(moment)

        name = "site_weight_kg" if column.name == "weight_kg" else column.name
        return replace(column, name=name, value=value)

    yield Column("delivery", "Delivery", "count", value=lambda row: row[0])
    yield of(LEVELS)
    yield Column("status", "Status", value=lambda row: firmness(row[1], by_name)[0])
    yield Column("measure_by", "Measure by", "date", value=lambda row: firmness(row[1], by_name)[1])
    yield from (of(column) for column in (DELIVER_ON, ORDER_BY, *CARRIED_BY, AMOUNT))
    yield of(loads_cost(each))
    yield from (on_its_day(column) for column in ON_SITE if column.name not in ("day", "levels"))
    yield constant(Column("total_cost", "Total", "money"), costs.total if costs else None)
    yield constant(Column("proved_minimum", "Proved minimum", "money"), costs.lower_bound if costs else None)
    yield constant(CURRENCY, plan.order.currency)
