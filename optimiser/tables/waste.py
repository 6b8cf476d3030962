"""Where the board area went, and what is left over in sizes that can serve again."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from optimiser.cutting.problem import LeftOver
from optimiser.tables.columns import Column, Columns


class AreaShare(NamedTuple):
    """A part of the board area, and its share of all that was bought or in stock."""

    name: str
    area_mm2: int
    share: float


WASTE: Columns = (
    Column("name", "Board area", width=24),
    Column("area_m2", "m2", "area", 12, value=lambda row: row.area_mm2 / 1e6),
    Column("share", "Share", "share", 10, what="of all that was bought or in stock"),
)


def areas_of(waste: Any) -> tuple[AreaShare, ...]:
    """The parts of a plan's `Waste`, in the order of its account."""
    whole = waste.bought_mm2 + waste.stock_mm2
    parts = (
        ("Bought", waste.bought_mm2),
        ("From stock", waste.stock_mm2),
        ("Fitted", waste.fitted_mm2),
        ("Left over, reusable", waste.reusable_offcut_mm2),
        ("Scrap", waste.scrap_mm2),
    )
    return tuple(AreaShare(name, area, area / whole if whole else 0.0) for name, area in parts)


class LeftOverLot(NamedTuple):
    """Left-overs of one board, delivery and size. `serves`: the levels that have a piece for one."""

    code: str
    stage: int
    length_mm: int
    width_mm: int
    quantity: int
    serves: tuple[str, ...]


LEFT_OVER: Columns = (
    Column("code", "Board", width=24),
    Column("stage", "From delivery", "count", 12),
    Column("length_mm", "Length", "mm", 10, "mm"),
    Column("width_mm", "Width", "mm", 10, "mm"),
    Column("quantity", "Number", "count", 9),
)
SERVES = Column(
    "serves", "Of use to level", "texts", 40, joined=" ", value=lambda lot: lot.serves or ("none",)
)


def lots_of(left_over: Iterable[LeftOver], usable: Iterable[Any]) -> tuple[LeftOverLot, ...]:
    """Left-overs of the same board, delivery and size together, the largest first; `usable` says which levels have a
    piece for them."""
    counted: dict[tuple[str, int, int, int], int] = {}
    for item in left_over:
        key = (item.code, item.stage, item.length_mm, item.width_mm)
        counted[key] = counted.get(key, 0) + item.quantity
    serves = {(item.code, item.stage, item.length_mm, item.width_mm): tuple(item.serves) for item in usable}
    return tuple(
        LeftOverLot(*key, counted[key], serves.get(key, ()))
        for key in sorted(counted, key=lambda key: (key[0], key[1], -key[2], -key[3]))
    )
