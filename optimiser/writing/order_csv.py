"""`order.csv`: the order lines as a flat table for any spreadsheet or purchasing system.

| column | what |
| --- | --- |
| order_reference, supplier, buyer, deliver_to | from the project |
| level | the level whose delivery it is |
| deliver_on, order_by | ISO 8601 dates; empty when the level has no date |
| kind, code | what is bought |
| needed, allowance, quantity | singles the plan uses, singles on top for breakage and loss, and their sum |
| per_pack, packs, pack_name | packs bought for this delivery, after what earlier ones left over |
| price, amount, currency | of one pack; of the line; ISO 4217 |
"""

from __future__ import annotations

import csv
import io

from optimiser.plan import Plan
from optimiser.project import money_text

COLUMNS = (
    "order_reference",
    "supplier",
    "buyer",
    "deliver_to",
    "level",
    "deliver_on",
    "order_by",
    "kind",
    "code",
    "needed",
    "allowance",
    "quantity",
    "per_pack",
    "packs",
    "pack_name",
    "price",
    "amount",
    "currency",
)


def order_csv(plan: Plan) -> str:
    """The text of `order.csv` (RFC 4180: commas, CRLF), one row an order line."""
    heading = plan.project.project
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(COLUMNS)
    for line in plan.order.lines:
        rows.writerow(
            (
                as_text(heading.order_reference),
                as_text(heading.supplier),
                as_text(heading.buyer),
                as_text(heading.deliver_to),
                as_text(line.level),
                line.deliver_on.isoformat() if line.deliver_on else "",
                line.order_by.isoformat() if line.order_by else "",
                line.kind,
                as_text(line.code),
                line.needed,
                line.allowance,
                line.quantity,
                line.per_pack,
                line.packs,
                as_text(line.pack_name),
                money_text(line.price),
                money_text(line.amount),
                plan.order.currency,
            )
        )
    return text.getvalue()


def as_text(value: str) -> str:
    """Text that no spreadsheet takes for a formula: a leading = + - @, tab or carriage return gets an
    apostrophe before it (the usual defence against formula injection: OWASP, 'CSV Injection')."""
    return "'" + value if value.lstrip(" \n")[:1] in {"=", "+", "-", "@", "\t", "\r"} else value
