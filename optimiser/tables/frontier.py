"""A plan of the trade-off between boards and waiting."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

FRONTIER: Columns = (
    Column("number", "Choice", "count", 7, what="`plan --waiting-choice` takes it"),
    Column("boards", "Boards", "count", 8, what="bought"),
    Column("lower_bound", "Proved minimum", "count", 9, short="At least", what="no plan buys fewer boards"),
    Column("packs", "Packs", "count", 8, what="paid for, allowance included; none where a level is nominal",
           value=lambda point: sum(point.packs.values()) if point.packs else None),
    Column("lower_bound_packs", "Fewest packs", "count", 9, short="At least", what="no plan pays for fewer packs",
           value=lambda point: sum(point.lower_bound_packs.values()) if point.lower_bound_packs else None),
    Column("paid", "Paid for boards", "money", 14, short="Paid", what="for whole packs, at the products' prices"),
    Column("waiting_pieces", "Waiting pieces", "count", 9, short="Pieces",
           what="needed later than their board comes", value=lambda point: point.waiting.pieces),
    Column("waiting_piece_stages", "Waiting, pieces times deliveries", "count", 9, short="Waiting",
           what="each waiting piece times the deliveries that it waits",
           value=lambda point: point.waiting.piece_stages),
    Column("lower_bound_piece_stages", "Proved minimum of pieces times deliveries", "count", 9, short="At least",
           what="no plan whose boards cost as little waits less"),
    Column("remainders", "Remainders", "count", 9, what="that the waiting pieces lie in",
           value=lambda point: point.waiting.remainders),
    Column("least_for_paid", "Least waiting for what is paid", "flag", 8, short="Least for paid",
           what="no plan that pays as little waits less"),
)  # fmt: skip
