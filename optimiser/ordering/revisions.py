"""Revisions of an order: each is the difference to the last one that was issued, which itself never changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from optimiser.model.money import NOTHING


class AnyLine(Protocol):
    """What a difference needs to know of an order's line: an `OrderLine` tells it."""

    @property
    def code(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def packs(self) -> int: ...
    @property
    def amount(self) -> Decimal: ...


class AnyOrder(Protocol):
    """What a difference needs to know of an order: an `Order` tells it."""

    @property
    def lines(self) -> Sequence[AnyLine]: ...
    @property
    def total(self) -> Decimal: ...
    @property
    def currency(self) -> str: ...


@dataclass(frozen=True)
class RevisionLine:
    """What a revision changes for a product and level. `packs` and `amount` are negative where less is ordered."""

    code: str
    level: str
    packs_before: int
    packs_after: int
    amount: Decimal

    @property
    def packs(self) -> int:
        """Packs more than in the last issued order."""
        return self.packs_after - self.packs_before


@dataclass(frozen=True)
class Revision:
    """The difference of two orders: lines that change, in the wanted order's sequence, and the totals'."""

    lines: tuple[RevisionLine, ...]
    amount: Decimal
    currency: str


def revision(last_issued: AnyOrder | None, wanted: AnyOrder) -> Revision:
    """What changes from the last issued order (None: nothing was issued) to the one that is wanted.

    A line for each product and level whose packs or amount change; those that are no longer wanted come last.
    Raises ValueError when the two orders are in different currencies.
    """
    if last_issued is not None and last_issued.currency != wanted.currency:
        raise ValueError(
            f"the last issued order is in {last_issued.currency}, this one in {wanted.currency}: no difference"
            " can be told"
        )
    before, after = _by_place(last_issued), _by_place(wanted)
    lines = []
    for place in [*after, *(place for place in before if place not in after)]:
        packs_before, amount_before = before.get(place, (0, NOTHING))
        packs_after, amount_after = after.get(place, (0, NOTHING))
        if (packs_before, amount_before) != (packs_after, amount_after):
            code, level = place
            lines.append(RevisionLine(code, level, packs_before, packs_after, amount_after - amount_before))
    issued = last_issued.total if last_issued is not None else NOTHING
    return Revision(tuple(lines), wanted.total - issued, wanted.currency)


def _by_place(order: AnyOrder | None) -> dict[tuple[str, str], tuple[int, Decimal]]:
    """Packs and amounts by product and level."""
    found: dict[tuple[str, str], tuple[int, Decimal]] = {}
    for line in order.lines if order is not None else ():
        packs, amount = found.get((line.code, line.level), (0, NOTHING))
        found[line.code, line.level] = packs + line.packs, amount + line.amount
    return found
