"""What an order costs with what brings and stores it: its parts, their sum, and the proved minimum of the sum."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from optimiser.tables.columns import Column, Columns


class CostPart(NamedTuple):
    """A part of the sum: how many of what unit, and the amount."""

    name: str
    number: Any
    unit: str
    amount: Decimal


TOTAL, PROVED_MINIMUM = "Total with delivery and storage", "Proved minimum"

DELIVERY_COSTS: Columns = (
    Column("name", "Deliveries and storage", width=30),
    Column("number", "Number", "number", 10),
    Column("unit", "Unit", width=12),
    Column("amount", "Amount", "money", 17),
)


def cost_parts(costs: Any) -> tuple[CostPart, ...]:
    """The parts of a plan's `DeliveryCosts`, their sum and its bound; a part that costs nothing is left out, but
    never the loads."""
    parts = [
        CostPart("Goods", None, "", costs.goods),
        CostPart("Loads", costs.loads, "load" if costs.loads == 1 else "loads", costs.delivery),
    ]
    if costs.storage:
        parts.append(CostPart("Storage", costs.storage_m2_weeks, "m2 weeks", costs.storage))
    if costs.waiting:
        parts.append(CostPart("Remainders that wait", None, "", costs.waiting))
    parts.append(CostPart(TOTAL, None, "", costs.total))
    return (*parts, CostPart(PROVED_MINIMUM, None, "", costs.lower_bound))
