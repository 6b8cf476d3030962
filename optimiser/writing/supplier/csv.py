"""`order.csv`: the order lines as a flat table; `deliveries.csv`: what comes together. For any spreadsheet or
purchasing system.

`order.csv`, a row an order line:

| column | what |
| --- | --- |
| order_reference, supplier, buyer, deliver_to | from the project |
| level | the level whose delivery it is |
| deliver_on, order_by | ISO 8601 dates; empty when the level has no date |
| kind, code | what is bought |
| needed, allowance, quantity | singles the plan uses, those on top (breakage and loss, or tolerances), their sum |
| per_pack, packs, pack_name | packs bought for this delivery, after what earlier ones left over |
| price, amount, currency | of one pack; of the line; ISO 4217 |
| status, measure_by | firm, or forecast: not measured yet; the day by which it must be to keep its delivery |
| delivery | the row of deliveries.csv that brings it, counted from 1; empty where no pack is needed |
| weight_kg | of the line's packs; empty where the product's weight is not known |

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

from optimiser.model.plan import Delivery, OnSite, OrderLine, Plan
from optimiser.tables.columns import CURRENCY, Column, Columns, constant
from optimiser.tables.deliveries import AMOUNT, CARRIED_BY, DELIVER_ON, LEVELS, ORDER_BY, firmness, served
from optimiser.tables.on_site import ON_SITE
from optimiser.tables.order_lines import ORDER_LINES
from optimiser.tables.text import csv_of

HEADING = (
    Column("order_reference", "Order"),
    Column("supplier", "Supplier"),
    Column("buyer", "Buyer"),
    Column("deliver_to", "Deliver to"),
)
MORE = (
    Column("delivery", "Delivery", "count", what="the row of deliveries.csv that brings it"),
    Column("weight_kg", "Weight", "number", unit="kg", what="of the line's packs"),
)
COLUMNS = tuple(column.name for column in (*HEADING, *ORDER_LINES, *MORE, CURRENCY))


def _more(plan: Plan) -> Columns:
    """What a line's delivery and weight are."""
    brought_by: dict[tuple[str, str, Any], int] = {}
    for number, delivery in enumerate(plan.deliveries, start=1):
        for level in served(delivery):
            for code in delivery.packs:
                brought_by.setdefault((level, code, delivery.deliver_on), number)
    weights = {product.code: product.weight_kg for product in plan.project.products}

    def delivery_of(line: OrderLine) -> int | None:
        return brought_by.get((line.level, line.code, line.deliver_on)) if line.packs else None

    def weight_of(line: OrderLine) -> Any:
        weight = weights.get(line.code)
        return None if weight is None else weight * line.per_pack * line.packs

    number_of, weight = MORE
    return (replace(number_of, value=delivery_of), replace(weight, value=weight_of))


def order_csv(plan: Plan) -> str:
    """The text of `order.csv` (RFC 4180: commas, CRLF), one row an order line."""
    heading = (constant(column, column.of(plan.project.project)) for column in HEADING)
    columns = (*heading, *ORDER_LINES, *_more(plan), constant(CURRENCY, plan.order.currency))
    return csv_of(columns, plan.order.lines)


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
    yield Column("delivery_cost", "Delivery", "money",
                 value=lambda row: None if each is None else each * (row[1].trucks or 1))  # fmt: skip
    yield from (on_its_day(column) for column in ON_SITE if column.name not in ("day", "levels"))
    yield constant(Column("total_cost", "Total", "money"), costs.total if costs else None)
    yield constant(Column("proved_minimum", "Proved minimum", "money"), costs.lower_bound if costs else None)
    yield constant(CURRENCY, plan.order.currency)
