"""What a revision changes: its lines and total against those of the last issued order."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from optimiser.model.money import money_text
from optimiser.ordering.revisions import revision


class _Line(NamedTuple):
    code: str
    level: str
    packs: int
    amount: Decimal


class _Order(NamedTuple):
    lines: tuple[_Line, ...]
    total: Decimal
    currency: str


def difference(last: Mapping[str, Any] | None, order: Mapping[str, Any]) -> dict[str, Any]:
    """A row for each product and level whose packs or amount change; `last` None: the whole order.

    Both orders are as `plan.json` holds them: `lines`, `total` and `currency`. Amounts are decimal text; packs
    and amounts are negative where less is ordered. An order issued in another currency is compared by its
    numbers, and the difference is in the new one.
    """
    wanted = _order(order)
    issued = None if last is None else _order(last)._replace(currency=wanted.currency)
    found = revision(issued, wanted)
    return {
        "lines": [
            {
                "code": line.code,
                "level": line.level,
                "packs_before": line.packs_before,
                "packs_after": line.packs_after,
                "packs": line.packs,
                "amount": money_text(line.amount),
            }
            for line in found.lines
        ],
        "total": money_text(found.amount),
        "currency": found.currency,
    }


def _order(document: Mapping[str, Any]) -> _Order:
    lines = tuple(
        _Line(line["code"], line["level"], line["packs"], Decimal(line["amount"]))
        for line in document["lines"]
    )
    return _Order(lines, Decimal(document["total"]), document["currency"])
