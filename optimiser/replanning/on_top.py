"""The order of a job's rest on top of the one that was sent: the next revision, which replaces it whole."""

from __future__ import annotations

from collections import Counter

from optimiser.errors.problems import CannotBeDone
from optimiser.model.money import total_of
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.replanning.supplement import order_with


def order_on_top(plan: Plan, placed: PurchaseOrder, before: Project) -> Order:
    """All that is ordered once the plan for a job's rest is: what was `placed` and what the plan orders beyond it.

    `before` is the survey that was planned by until now: levels that are needed on another day since have their lines
    on their new days; and what is measured now is firm.
    Raises CannotBeDone where less is on the plan's record as ordered than was placed: the plan does not know of it.
    """
    on_record = Counter({code: sum(levels.values()) for code, levels in ordered_on_record(plan).items()})
    sent: Counter[str] = Counter()
    forecast: Counter[str] = Counter()
    for line in placed.lines:
        sent[line.code] += line.packs * line.per_pack
        if line.status == "forecast":
            forecast[line.code] += line.packs * line.per_pack
    unknown = [
        _unknown(code, number, forecast[code], on_record[code])
        for code, number in sent.items()
        if number > on_record[code]
    ]
    if unknown:
        raise CannotBeDone(unknown)
    return order_with(as_order(placed), plan.order, (), plan.project, before)


def _unknown(code: str, sent: int, forecast: int, on_record: int) -> str:
    """That less is on record than was sent; a forecast is easily taken for something that is not ordered yet."""
    of_them, too = (f", {forecast:,} of them as a forecast", ", forecast lines too") if forecast else ("", "")
    return (
        f"{code}: {sent:,} were ordered{of_them}, {on_record:,} are on record as ordered; record what was ordered{too},"
        " then plan the rest again"
    )


def ordered_on_record(plan: Plan) -> dict[str, dict[str, int]]:
    """What is on a plan's record as ordered, in single units by code and level."""
    found: dict[str, dict[str, int]] = {}
    for event in plan.record.standing:
        if event.event == "ordered":
            by_level = found.setdefault(event.code, {})
            by_level[event.level] = by_level.get(event.level, 0) + (event.quantity or 0)
    return found


def as_order(placed: PurchaseOrder) -> Order:
    """The lines of an order that was sent, one a product and level; what each level needs is not known of it."""
    lines: dict[tuple[str, str], OrderLine] = {}
    for load in placed.truckloads:
        for line in load.lines:
            for level, packs in line.packs_for.items():
                before = lines.get((level, line.code))
                bought = (0, total_of(())) if before is None else (before.packs, before.amount)
                lines[level, line.code] = OrderLine(
                    code=line.code,
                    kind=line.kind,
                    level=level,
                    deliver_on=load.deliver_on,
                    order_by=None,
                    needed=0,
                    allowance=0,
                    quantity=0,
                    per_pack=line.per_pack,
                    packs=bought[0] + packs,
                    pack_name=line.pack_name,
                    price=line.price,
                    amount=bought[1] + packs * line.price,
                    status=line.status,
                    measure_by=line.confirm_by,
                )
    return Order(lines=tuple(lines.values()), total=placed.subtotal, currency=placed.currency)
