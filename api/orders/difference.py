"""What a revision changes: its lines and total against those of the last issued order, each line with its causes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from optimiser.model.money import money_text
from optimiser.ordering.revisions import RevisionLine, revision

Line = tuple[str, str]
"""A level and a product's code."""


@dataclass(frozen=True)
class Because:
    """Why quantities are other than in the last issued order: by line, or `otherwise` for each. `damaged` are the names
    of pieces and remainders that a line replaces."""

    by_line: Mapping[Line, tuple[str, ...]] = field(default_factory=dict)
    otherwise: tuple[str, ...] = ()
    damaged: Mapping[Line, tuple[str, ...]] = field(default_factory=dict)

    def causes(self, line: RevisionLine) -> list[str]:
        """The causes of a line's change: of its quantity, then price, then date."""
        found = list(self.by_line.get((line.level, line.code), self.otherwise)) if line.packs else []
        return found + ["price"] * line.repriced + ["date"] * line.moved


class _Line(NamedTuple):
    code: str
    level: str
    packs: int
    amount: Decimal
    price: Decimal | None
    deliver_on: date | None


class _Order(NamedTuple):
    lines: tuple[_Line, ...]
    total: Decimal
    currency: str


def difference(
    last: Mapping[str, Any] | None, order: Mapping[str, Any], because: Because | None = None
) -> dict[str, Any]:
    """A row for each product of a level's delivery whose packs, amount, price or day change; `last` None: the whole
    order, without causes.

    Both orders are as `plan.json` holds them: `lines`, `total` and `currency`. Amounts are decimal text; packs
    and amounts are negative where less is ordered. An order issued in another currency is compared by its
    numbers, and the difference is in the new one.
    """
    wanted = _order(order)
    issued = None if last is None else _order(last)._replace(currency=wanted.currency)
    found = revision(issued, wanted)
    reasons = (because or Because()) if last is not None else Because()
    return {
        "lines": [
            {
                "code": line.code,
                "level": line.level,
                "packs_before": line.packs_before,
                "packs_after": line.packs_after,
                "packs": line.packs,
                "amount": money_text(line.amount),
                "price_before": _money(line.price_before),
                "price_after": _money(line.price_after),
                "deliver_on_before": _day(line.deliver_on_before),
                "deliver_on_after": _day(line.deliver_on_after),
                "causes": reasons.causes(line),
                "damaged": list(reasons.damaged.get((line.level, line.code), ())),
            }
            for line in found.lines
        ],
        "total": money_text(found.amount),
        "currency": found.currency,
    }


def _order(document: Mapping[str, Any]) -> _Order:
    lines = tuple(
        _Line(
            line["code"],
            line["level"],
            line["packs"],
            Decimal(line["amount"]),
            Decimal(line["price"]) if line.get("price") is not None else None,
            date.fromisoformat(line["deliver_on"]) if line.get("deliver_on") else None,
        )
        for line in document["lines"]
    )
    return _Order(lines, Decimal(document["total"]), document["currency"])


def _money(price: Decimal | None) -> str | None:
    return None if price is None else money_text(price)


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()
