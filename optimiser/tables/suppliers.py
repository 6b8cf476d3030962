"""Suppliers side by side: a product from one of them, all from one of them, and what the cheapest split buys."""

from __future__ import annotations

from typing import Any, NamedTuple

from optimiser.tables.columns import Column, Columns


class OfferedProduct(NamedTuple):
    """A product from a supplier: the comparison's `option`, the `needed` single units, the supplier's `steps` of prices
    and its `reference`, the packs that the cheapest split takes from it. Amounts are decimals."""

    option: Any
    needed: int
    steps: Any
    reference: str
    bought: int
    amount: Any
    more: Any
    fall: Any


class BoughtPacks(NamedTuple):
    """Packs of a product in a delivery of the cheapest split. Amounts are decimals."""

    supplier: str
    code: str
    deliver_on: Any
    packs: int
    price: Any
    amount: Any


class WholeOrder(NamedTuple):
    """All that is needed from one supplier, or the cheapest split. Amounts are decimals, None where it cannot be."""

    supplier: str
    goods: Any
    freight: Any
    total: Any
    more: Any
    fall_share: Any
    why_not: str


def _of(name: str) -> Any:
    return lambda row: getattr(row.option, name)


def _where_it_can_be(name: str) -> Any:
    return lambda row: None if row.option.split is None else getattr(row.option, name)


OFFERED_PRODUCTS: Columns = (
    Column("code", "Code", width=12, what="the product", value=_of("code")),
    Column("needed", "Needed", "count", 9, what="single units with their allowance, of the whole order"),
    Column("supplier", "Supplier", width=24, value=_of("supplier")),
    Column("reference", "Quotation", width=14, what="its number"),
    Column("per_pack", "Per pack", "count", 9, what="single units in its pack", value=lambda row: row.steps.per_pack),
    Column("lead_days", "Lead days", "count", 9, what="working days", value=lambda row: row.steps.lead_days),
    Column("packs", "Packs", "count", 8, what="where all of it came from this supplier",
           value=_where_it_can_be("packs")),
    Column("amount", "Amount", "money", 14, what="of these packs, price breaks included"),
    Column("more", "Costs more", "money", 13, what="the whole order than by the cheapest split"),
    Column("fall", "To win, a pack less", "money", 13, short="Pack less",
           what="what each pack's price must fall by for all of it to be bought here"),
    Column("fall_share", "To win, prices less", "share", 10, short="Less",
           what="that fall as a share of the amount, rounded up", value=_where_it_can_be("fall_share")),
    Column("bought", "Bought", "count", 8, what="packs that the cheapest split takes from it"),
    Column("why_not", "Why not", "long text", 40, value=_of("why_not")),
)  # fmt: skip

BOUGHT_PACKS: Columns = (
    Column("supplier", "Supplier", width=24),
    Column("code", "Code", width=12),
    Column("deliver_on", "Deliver on", "date", what="none where the level has no date"),
    Column("packs", "Packs", "count", 8),
    Column("price", "Price per pack", "money", 14, what="for so many packs in this delivery"),
    Column("amount", "Amount", "money", 14, what="packs times price"),
)

WHOLE_ORDERS: Columns = (
    Column("supplier", "Supplier", width=24),
    Column("goods", "Goods", "money", 14),
    Column("freight", "Freight", "money", 12),
    Column("total", "Total", "money", 14),
    Column("more", "Costs more", "money", 13, what="than the cheapest split"),
    Column("fall_share", "To win, prices less", "share", 10, short="Less",
           what="what its prices must fall by for it to cost no more, as a share of its goods, rounded up"),
    Column("why_not", "Why not", "long text", 40),
)  # fmt: skip
