"""The truckloads of an order as it is sent, a row a load."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

TRUCKLOADS: Columns = (
    Column("number", "Truckload", "count", 10, what="counted over the order from 1"),
    Column("delivery", "Delivery", "count", 9, what="what comes on one day, counted from 1"),
    Column("load", "Load", "count", 7, what="of its delivery"),
    Column("loads", "of", "count", 7, what="loads of its delivery"),
    Column("deliver_on", "Deliver on", "date", what="none where it is to be agreed"),
    Column("levels", "For", "texts", 16, joined=" "),
    Column("pallets", "Pallets", "count", 9, what="of boards; none where the project does not say"),
    Column(
        "weight_kg", "Weight", "number", 11, "kg", what="without packaging; none where a board's is not known"
    ),
    Column("amount", "Amount", "money", 17, what="before tax"),
)
