"""What a tolerance simulation says to order of each product, and what every draw of it needs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from optimiser.tables.columns import Column, Columns

GROUPS = {"board": "boards", "bracket": "brackets", "anchor": "anchors", "tape": "tape"}
"""What the products of a kind are called together, in trade order."""

QUANTITIES: Columns = (
    Column("kind", "Kind", width=9),
    Column("code", "Product", width=16),
    Column("order", "Order", "count", 9,
           what="covers the service level's share of the draws in all products at once"),
    Column("order_alone", "Alone", "count", 9, what="covers the same share for this product alone"),
    Column("interval_low", "95 % sure from", "count", 9, what="none: too few draws to bound it",
           value=lambda item: item.interval[0]),
    Column("interval_high", "95 % sure to", "count", 9, what="none: too few draws to bound it",
           value=lambda item: item.interval[1]),
    Column("packs", "Packs", "count", 9),
    Column("median", "Median", "count", 9, what="of the draws"),
    Column("min", "Least", "count", 9, what="of the draws", value=lambda item: item.least),
    Column("max", "Most", "count", 9, what="of the draws", value=lambda item: item.greatest),
    Column("planned", "Nominal plan", "count", 9, short="Plan", what="what the plan of the nominal gaps uses"),
    Column("extra", "On top", "count", 9, what="of the plan, never less than nothing"),
    Column("per_pack", "Per pack", "count", 9),
    Column("mean", "Mean", "number", 9, what="of the draws"),
    Column("short_share", "Too few", "share", 9, what="share of the draws that need more than the order"),
    Column("mean_surplus", "Left over", "number", 9, what="of the order, on average"),
)  # fmt: skip


def draw_columns(products: Iterable[tuple[str, str]], further: Sequence[str]) -> Columns:
    """A column for each product (kind, code), `boards B-120`, and for each further count of a draw.

    A row is a mapping of these names to the draw's numbers.
    """
    of_products = (Column(f"{GROUPS[kind]} {code}", code, "count") for kind, code in products)
    others = (Column(name, name, unit="mm" if name.endswith("_mm") else "", kind="count") for name in further)
    return tuple(_read_by_name(column) for column in (*of_products, *others))


def _read_by_name(column: Column) -> Column:
    name = column.name

    def value(row: Mapping[str, Any]) -> Any:
        return row[name]

    return Column(column.name, column.heading, column.kind, unit=column.unit, value=value)
