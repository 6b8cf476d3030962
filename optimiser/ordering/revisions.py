"""Revisions of an order: each is the difference to the last one that was issued, which itself never changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
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
    @property
    def price(self) -> Decimal | None: ...
    @property
    def deliver_on(self) -> date | None: ...


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
    """What a revision changes for a product of a level's delivery. `packs` and `amount` are negative where less is
    ordered. Prices (of a pack) and days before and after are None where the line is not in that order, or has none.
    """

    code: str
    level: str
    packs_before: int
    packs_after: int
    amount: Decimal
    price_before: Decimal | None = None
    price_after: Decimal | None = None
    deliver_on_before: date | None = None
    deliver_on_after: date | None = None

    @property
    def packs(self) -> int:
        """Packs more than in the last issued order."""
        return self.packs_after - self.packs_before

    @property
    def moved(self) -> bool:
        """Whether what stays ordered comes on another day."""
        return self._in_both and self.deliver_on_before != self.deliver_on_after

    @property
    def repriced(self) -> bool:
        """Whether what stays ordered costs something else."""
        if not self._in_both:
            return False
        return self.price_before != self.price_after or (not self.packs and self.amount != NOTHING)

    @property
    def _in_both(self) -> bool:
        return bool(self.packs_before and self.packs_after)


@dataclass(frozen=True)
class Revision:
    """The difference of two orders: lines that change, in the wanted order's sequence, and the totals'."""

    lines: tuple[RevisionLine, ...]
    amount: Decimal
    currency: str


def revision(last_issued: AnyOrder | None, wanted: AnyOrder) -> Revision:
    """What changes from the last issued order (None: nothing was issued) to the one that is wanted.

    A line for each product and level whose packs, amount, price or day change; those that are no longer wanted come
    last. Raises ValueError when the two orders are in different currencies.
    """
    if last_issued is not None and last_issued.currency != wanted.currency:
        raise ValueError(
            f"the last issued order is in {last_issued.currency}, this one in {wanted.currency}: no difference"
            " can be told"
        )
    before, after = _by_place(last_issued), _by_place(wanted)
    lines = []
    for place in [*after, *(place for place in before if place not in after)]:
        old, new = before.get(place, _NO_LINE), after.get(place, _NO_LINE)
        code, level = place
        line = RevisionLine(
            code,
            level,
            old.packs,
            new.packs,
            new.amount - old.amount,
            old.price,
            new.price,
            old.deliver_on,
            new.deliver_on,
        )
        if line.packs or line.amount or line.moved or line.repriced:
            lines.append(line)
    issued = last_issued.total if last_issued is not None else NOTHING
    return Revision(tuple(lines), wanted.total - issued, wanted.currency)


@dataclass(frozen=True)
class _Placed:
    """What an order orders of a product for a level: packs and money in all, the last line's price and day."""

    packs: int
    amount: Decimal
    price: Decimal | None
    deliver_on: date | None


_NO_LINE = _Placed(0, NOTHING, None, None)


def _by_place(order: AnyOrder | None) -> dict[tuple[str, str], _Placed]:
    """What is ordered by product and level."""
    found: dict[tuple[str, str], _Placed] = {}
    for line in order.lines if order is not None else ():
        there = found.get((line.code, line.level), _NO_LINE)
        found[line.code, line.level] = _Placed(
            there.packs + line.packs, there.amount + line.amount, line.price, line.deliver_on
        )
    return found
