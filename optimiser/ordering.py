"""From what each level needs to what the supplier is asked for: allowance, packs, dates and money.

Nothing is rounded level by level. The allowance, the rolls of tape and the packs are each rounded up once
over the whole project; a level takes the difference of two running totals, so what one delivery leaves over
serves the next. Money is integer cents throughout.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction
from math import ceil
from typing import Any

from optimiser.plan import Delivery, LevelCounts, Order, OrderLine
from optimiser.project import KINDS, Kind, Level, Product, Project, money_text
from optimiser.working_days import WorkingDays

MOST_CENTS = 10**12  # what the models hold

Needed = Mapping[str, Mapping[str, int]]
"""Level -> product code -> how many single boards, brackets, anchors or rolls the plan uses there."""


def needed_by_level(project: Project, boards: Needed, counts: Mapping[str, LevelCounts]) -> Needed:
    """Everything the plan uses, by level and product code.

    `boards` are the bought boards by the level that they are delivered for; `counts` the accessories by
    level. Of several anchors or tapes the first listed is used; without one they are left out, which a
    warning says.
    Tape is counted in whole rolls: its running total over the levels in delivery order, rounded up.
    """
    anchor = first_of(project, "anchor")
    tape = first_of(project, "tape")
    needed: dict[str, dict[str, int]] = {}
    tape_so_far = rolls_so_far = 0
    for level in project.levels_in_order():
        here = dict(boards.get(level.level, {}))
        count = counts.get(level.level)
        if count is not None:
            here.update(count.brackets)
            if anchor is not None:
                here[anchor.code] = count.anchors
            if tape is not None and tape.length_mm is not None:
                tape_so_far += count.tape_mm
                rolls = -(-tape_so_far // tape.length_mm)
                here[tape.code] = rolls - rolls_so_far
                rolls_so_far = rolls
        needed[level.level] = {code: number for code, number in here.items() if number > 0}
    return needed


def first_of(project: Project, kind: Kind) -> Product | None:
    """The first product of a kind in the catalogue, or None."""
    return next(iter(project.products_of(kind)), None)


def order_for(
    project: Project, needed: Needed, fractions: Mapping[str, Fraction], calendar: WorkingDays
) -> Order:
    """The order: a line for every product that a level needs, in delivery order, boards first.

    `fractions` is the allowance by product code (absent: none); for every code and level it holds that
    allowance so far = ceil(needed so far x fraction) and packs so far = ceil(quantity so far / per_pack).
    """
    in_trade_order = sorted(project.products, key=lambda product: KINDS.index(product.kind))
    running: dict[str, _RunningTotal] = {}
    lines: list[OrderLine] = []
    for level in project.levels_in_order():
        here = needed.get(level.level, {})
        if not here:
            continue
        for product in in_trade_order:
            number = here.get(product.code, 0)
            if number <= 0:
                continue
            total = running.setdefault(
                product.code, _RunningTotal(product.per_pack, fractions.get(product.code, Fraction(0)))
            )
            allowance, packs = total.take(number)
            lines.append(_line(product, level, number, allowance, packs, calendar))
    return Order(
        lines=tuple(lines),
        total=money_of(sum(line.amount for line in lines)),
        currency=project.project.currency,
    )


class _RunningTotal:
    """What has been needed, allowed for and packed of one product so far, in delivery order."""

    def __init__(self, per_pack: int, fraction: Fraction) -> None:
        self.per_pack = per_pack
        self.fraction = fraction
        self.needed = self.allowance = self.packs = 0

    def take(self, number: int) -> tuple[int, int]:
        """The allowance and the packs that `number` more of the product add to the running totals."""
        self.needed += number
        allowance = ceil(self.needed * self.fraction)
        packs = -(-(self.needed + allowance) // self.per_pack)
        more = allowance - self.allowance, packs - self.packs
        self.allowance, self.packs = allowance, packs
        return more


def _line(
    product: Product, level: Level, needed: int, allowance: int, packs: int, calendar: WorkingDays
) -> OrderLine:
    deliver_on = None if level.needed_on is None else calendar.on_or_before(level.needed_on)
    return OrderLine(
        code=product.code,
        kind=product.kind,
        level=level.level,
        deliver_on=deliver_on,
        order_by=None if deliver_on is None else calendar.before(deliver_on, product.lead_days),
        needed=needed,
        allowance=allowance,
        quantity=needed + allowance,
        per_pack=product.per_pack,
        packs=packs,
        pack_name=product.pack_name,
        price=money_of(product.price_cents),
        amount=money_of(packs * product.price_cents),
    )


def deliveries_of(project: Project, order: Order) -> tuple[Delivery, ...]:
    """What arrives for each level, in delivery order; a level whose needs earlier packs cover gets none.

    `order_by` is the earliest date on which something of the delivery must have been ordered.
    """
    by_level: dict[str, list[OrderLine]] = {}
    for line in order.lines:
        if line.packs > 0:
            by_level.setdefault(line.level, []).append(line)
    return tuple(
        Delivery(
            level=level.level,
            sequence=level.sequence,
            deliver_on=by_level[level.level][0].deliver_on,
            order_by=first_order_day(by_level[level.level]),
            packs={line.code: line.packs for line in by_level[level.level]},
            amount=money_of(sum(line.amount for line in by_level[level.level])),
        )
        for level in project.levels_in_order()
        if level.level in by_level
    )


def first_order_day(lines: Iterable[OrderLine]) -> date | None:
    """The earliest day on which one of the lines must be ordered; None when none has a day."""
    return min((line.order_by for line in lines if line.order_by is not None), default=None)


def money_of(cents: int) -> Any:
    """Cents as the models take money: they read a bare number as whole units of the currency, text exactly.

    Raises ValueError for a sum that no building costs, with the mend.
    """
    if cents > MOST_CENTS:
        raise ValueError(f"the order comes to {money_text(cents)}, which no building costs: check the prices")
    return money_text(cents)
