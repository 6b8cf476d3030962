"""A way of staging the deliveries, and what it costs."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

STAGINGS: Columns = (
    Column("staging", "Staging"),
    Column("boards", "Boards", "count", 9, what="bought"),
    Column("lower_bound", "Proved minimum", "count", 9, what="no plan of this staging buys fewer boards"),
    Column("optimal", "Proved", "flag", 8, what="no plan of this staging pays for fewer boards or packs"),
    Column("cost", "Cost", "money", 15, what="the order's total"),
    Column("waiting_pieces", "Waiting pieces", "count", 9, short="Waiting",
           what="needed later than their board comes", value=lambda option: option.waiting.pieces),
    Column("waiting_piece_stages", "Waiting, pieces times deliveries", "count", 9, short="x deliveries",
           what="each waiting piece times the deliveries that it waits",
           value=lambda option: option.waiting.piece_stages),
    Column("remainders", "Remainders", "count", 9, short="Racked", what="that the waiting pieces lie in",
           value=lambda option: option.waiting.remainders),
    Column("peak_storage_m2", "Peak on site", "area", 12, "m2", short="Peak m2",
           what="the most board face area on site at a time",
           value=lambda option: float(round(option.peak_storage_m2, 2))),
    Column("peak_at", "Peak at", "texts", 12, joined=" ", what="the levels delivered then"),
    Column("deliveries", "Deliveries", "count", 10, short="Days", what="days on which something arrives"),
    Column("truckloads", "Loads", "count", 8, what="truckloads; none where no truck's size is given"),
    Column("scrap_fraction", "Scrap", "share", 9, value=lambda option: round(option.scrap_fraction, 4)),
)  # fmt: skip
