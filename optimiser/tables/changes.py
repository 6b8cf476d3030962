"""What changes from one plan to the next: what more is ordered, and which labels are wrong now."""

from __future__ import annotations

from optimiser.tables.columns import Column

ORDER_CHANGES = (
    Column("level", "Level", what="whose delivery brings it"),
    Column("code", "Product"),
    Column("deliver_on", "Deliver on", "date"),
    Column("order_by", "Order by", "date"),
    Column("ordered_before", "Ordered before", "count", what="single units on record"),
    Column("ordered_now", "Ordered now", "count", what="single units on top; below 0: can be dropped"),
    Column("packs", "Packs", "count", what="that bring them"),
    Column("price", "Price per pack", "money"),
    Column("amount", "Amount", "money"),
    Column("deliver_on_before", "Deliver on before", "date", what="in the plan before"),
    Column("price_before", "Price before", "money", what="of a pack, in the plan before"),
    Column("causes", "Because of", "texts", what="survey, price, date, rule, damage, cutting"),
    Column("damaged", "Replaces", "texts", what="pieces and remainders that are damaged or lost, by name"),
)

RECEIVED = (
    Column("level", "Level"),
    Column("code", "Product"),
    Column("ordered", "Ordered", "count", what="single units"),
    Column("delivered", "Delivered", "count"),
    Column("on_order", "On order", "count", what="to come still"),
    Column("missing", "Missing", "count", what="did not come with the delivery that came"),
    Column("not_ordered", "Not ordered", "count", what="came without being ordered for this level"),
    Column("damaged", "Damaged", "count", what="came and is lost"),
)

LEVEL_STATES = (
    Column("level", "Level"),
    Column("measured", "Measured", "flag"),
    Column("planned", "Pieces to cut", "count"),
    Column("cut", "Cut", "count", what="and not fitted yet"),
    Column("fitted", "Fitted", "count"),
    Column("inspected", "Inspected", "count", what="of the fitted"),
    Column("racked", "Remainders", "count", what="on the rack that are cut for this level"),
    Column("boards_ordered", "Boards ordered", "count"),
    Column("boards_on_order", "On order", "count"),
    Column("boards_delivered", "Delivered", "count"),
    Column("boards_missing", "Missing", "count"),
    Column("boards_damaged", "Damaged", "count"),
    Column("boards_to_order", "To order", "count"),
)

LABEL_CHANGES = (
    Column("level", "Level"),
    Column("name", "Piece"),
    Column("what", "What changes"),
    Column("was", "Its label says", "long text", width=40),
    Column("now", "It must say", "long text", width=40),
)
