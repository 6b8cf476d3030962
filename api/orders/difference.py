"""What a revision changes: its lines and total against those of the last issued order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from optimiser.project import money_text


def difference(last: Mapping[str, Any] | None, order: Mapping[str, Any]) -> dict[str, Any]:
    """A row for each product and level whose packs or amount change; `last` None: the whole order.

    Both orders are as `plan.json` holds them: `lines` with code, level, packs and amount, and `total`. Rows
    come in the new order's sequence, then what the last one had and this one has not. Amounts are decimal
    text; packs and amounts are negative where less is ordered.
    """
    before = _by_place(last)
    after = _by_place(order)
    rows = []
    for place in [*after, *(place for place in before if place not in after)]:
        packs_before, cents_before = before.get(place, (0, 0))
        packs_after, cents_after = after.get(place, (0, 0))
        if (packs_before, cents_before) != (packs_after, cents_after):
            rows.append(
                {
                    "code": place[0],
                    "level": place[1],
                    "packs_before": packs_before,
                    "packs_after": packs_after,
                    "packs": packs_after - packs_before,
                    "amount": money_text(cents_after - cents_before),
                }
            )
    before_total = _cents(last["total"]) if last else 0
    return {
        "lines": rows,
        "total": money_text(_cents(order["total"]) - before_total),
        "currency": order["currency"],
    }


def _by_place(order: Mapping[str, Any] | None) -> dict[tuple[str, str], tuple[int, int]]:
    """Packs and cents by product and level."""
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for line in order["lines"] if order else ():
        packs, cents = found.get((line["code"], line["level"]), (0, 0))
        found[line["code"], line["level"]] = packs + line["packs"], cents + _cents(line["amount"])
    return found


def _cents(amount: str) -> int:
    whole, _, part = amount.lstrip("-").partition(".")
    cents = int(whole) * 100 + int(part or 0)
    return -cents if amount.startswith("-") else cents
