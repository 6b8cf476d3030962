"""An order line: one product for one level's delivery."""

from __future__ import annotations

from optimiser.tables.columns import Column, Columns

ORDER_LINES: Columns = (
    Column("level", "Level", width=11, what="the level whose delivery it is"),
    Column("deliver_on", "Deliver on", "date", what="none where the level has no date"),
    Column("order_by", "Order by", "date", what="the delivery less the product's lead time in working days"),
    Column("kind", "Kind", width=9, what="board, bracket, anchor or tape"),
    Column("code", "Code", width=16, what="the product"),
    Column("needed", "Needed", "count", 9, what="single boards, brackets, anchors, rolls that the plan uses"),
    Column("allowance", "Allowance", "count", 10, what="singles on top, for breakage and loss"),
    Column("quantity", "Quantity", "count", 9, what="needed and allowance together"),
    Column("per_pack", "Per pack", "count", 9, what="singles in a pack"),
    Column("packs", "Packs", "count", 11, what="bought for this delivery, after what earlier ones left over"),
    Column("pack_name", "Pack", width=18, what="what a pack is called"),
    Column("price", "Price per pack", "money", 15),
    Column("amount", "Amount", "money", 17, what="packs times price"),
    Column(
        "status", "Status", width=10, what="firm: every gap is measured; forecast: a gap is still nominal"
    ),
    Column(
        "measure_by", "Measure by", "date", what="of a forecast: the day by which its level must be measured"
    ),
)
