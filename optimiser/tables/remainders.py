"""Remainders: what is kept of opened boards for later deliveries, and how much of it stands on the rack when."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns


def _square_metres(row: object) -> float:
    return float(row.area_mm2) / 1e6  # type: ignore[attr-defined]


REMAINDERS: Columns = (
    Column("name", "Remainder", width=14, what="written on it when it is racked"),
    Column("code", "Board", width=12, what="the product that it was cut from"),
    Column("cut_from", "Cut from", width=14, what="the board or remainder that it was cut from"),
    Column(
        "size", "Size", width=20, unit="mm", what="length x width; a tapered one's widths at its two ends"
    ),
    Column("area_m2", "Area", "area", 10, "m2", value=_square_metres),
    Column("level", "Kept with", width=12, what="the level that is cut when it is racked"),
    Column("waits_for", "Waits for", width=12, what="the level for which it is cut again"),
    Column("pieces", "Pieces", "count", 9, what="still to be cut from it"),
)

RACK: Columns = (
    Column("levels", "After", "texts", 14, what="the levels of the delivery that was cut last"),
    Column("remainders", "On the rack", "count", 12, what="remainders that wait for a later delivery"),
    Column("area_m2", "Their area", "area", 11, "m2", value=_square_metres),
    Column("left_overs_m2", "Left-overs kept", "area", 15, "m2", what="so far, that nothing of the plan needs",
           value=lambda row: row.left_overs_mm2 / 1e6),
)  # fmt: skip

STOCK: Columns = (
    Column("name", "Stock", width=14, what="boards and offcuts that were on site before the plan"),
    Column("code", "Board", width=12),
    Column("length_mm", "Length", "mm", 10, "mm"),
    Column("width_mm", "Width", "mm", 10, "mm"),
    Column("quantity", "Number", "count", 9),
)
