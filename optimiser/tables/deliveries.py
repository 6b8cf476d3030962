"""A delivery: what arrives together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from optimiser.tables.columns import Column, Columns, only
from optimiser.tables.order_lines import ORDER_LINES


def served(delivery: Any) -> tuple[str, ...]:
    """The levels that a delivery serves, the first of them first."""
    return delivery.levels or (delivery.level,)


LEVELS = Column(
    "levels",
    "Level",
    "texts",
    11,
    joined=" ",
    what="the levels that it serves, in delivery order",
    value=served,
)
SEQUENCE = Column("sequence", "Delivery", "count", 9, what="its place in the order of deliveries")
DELIVER_ON = Column("deliver_on", "Deliver on", "date", what="none where its level has no date")
ORDER_BY = Column("order_by", "Order by", "date", what="the earliest date by which a product must be ordered")
LOADS = Column("trucks", "Loads", "count", 8, what="truckloads; none where the project names no truck")
PALLETS = Column("pallets", "Pallets", "count", 8, what="none where the project names no pallet")
WEIGHT = Column(
    "weight_kg", "Weight", "number", 9, "kg", what="of all that it brings; none where a weight is not known"
)
PACKS = Column(
    "packs", "Packs", "text", 20, what="packs of each product",
    value=lambda delivery: ", ".join(f"{packs}\N{MULTIPLICATION SIGN}{code}" for code, packs in delivery.packs.items()),
)  # fmt: skip
AMOUNT = Column("amount", "Amount", "money", 17, what="of all its packs")
CARRIED_BY: Columns = (LOADS, PALLETS, WEIGHT)
"""What brings it: loads, pallets, weight."""


def loads_cost(each: Decimal | None) -> Column:
    """What a delivery's loads cost at so much `each`; none where the project names no cost of a load."""
    return Column(
        "delivery_cost", "Cost of loads", "money", 14, what="what bringing it costs, beside the goods",
        value=lambda delivery: None if each is None else each * (delivery.trucks or 1),
    )  # fmt: skip


_STATUS, _MEASURE_BY = only(ORDER_LINES, "status", "measure_by")


def firmness(delivery: Any, levels: Mapping[str, Any]) -> tuple[str, Any]:
    """Whether a delivery's levels are firm, a forecast or both ('firm and forecast'), and the first day by which one
    must be measured (None: no day). `levels` are the plan's level statuses by name."""
    here = [levels[name] for name in served(delivery) if name in levels]
    words = " and ".join(s for s in ("firm", "forecast") if any(level.status == s for level in here))
    days = (level.measure_by for level in here if level.status == "forecast" and level.measure_by is not None)
    return words, min(days, default=None)


def firmness_columns(levels: Sequence[Any]) -> Columns:
    """Status and day to measure of a delivery; no columns where every one of the plan's levels is firm."""
    if all(level.status == "firm" for level in levels):
        return ()
    by_name = {level.level: level for level in levels}
    return (
        Column("status", _STATUS.heading, width=17, what=_STATUS.what,
               value=lambda delivery: firmness(delivery, by_name)[0]),
        Column("measure_by", _MEASURE_BY.heading, "date", what=_MEASURE_BY.what,
               value=lambda delivery: firmness(delivery, by_name)[1]),
    )  # fmt: skip


def known(columns: Columns, deliveries: Sequence[Any]) -> Columns:
    """Those of the columns that have a value for any delivery."""
    return tuple(c for c in columns if any(c.of(delivery) is not None for delivery in deliveries))


def packs_of(code: str) -> Column:
    """The packs of one product."""
    return Column(
        f"packs {code}", f"{code} packs", "count", max(9, min(16, len(code) + 2)), what=f"packs of {code}",
        value=lambda delivery: delivery.packs.get(code),
    )  # fmt: skip


def delivery_columns(codes: Sequence[str]) -> Columns:
    """All columns, with one for each of these products (`packs B-120`)."""
    packs = (packs_of(code) for code in codes)
    return (LEVELS, SEQUENCE, DELIVER_ON, ORDER_BY, *CARRIED_BY, *packs, AMOUNT)
