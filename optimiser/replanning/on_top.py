"""The order of a job's rest on top of the one that was sent: the next revision, which replaces it whole."""

from __future__ import annotations

from optimiser.errors.problems import CannotBeDone
from optimiser.model.money import cents_of, from_cents, total_of
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.purchase_order import PurchaseOrder
from optimiser.ordering.measuring_days import with_measuring_days
from optimiser.ordering.working_days import working_days_of
from optimiser.replanning.causes import ordered_by_line
from optimiser.replanning.supplement import order_with


def order_on_top(plan: Plan, placed: PurchaseOrder, before: Project) -> Order:
    """All that is ordered once the plan for a job's rest is: what was `placed` and what the plan orders beyond it.

    `before` is the survey that was planned by until now: levels that are needed on another day since have their lines
    on their new days; and what is measured now is firm. Where the record has less of a line as ordered than was
    placed, since the supplier confirmed less or it was taken back, so much is still placed. Raises CannotBeDone where
    it has nothing of a line: the plan does not know of it.
    """
    standing, unknown = as_recorded(as_order(placed), plan)
    if unknown:
        raise CannotBeDone(tuple(unknown.values()))
    whole = order_with(standing, plan.order, (), plan.project, before)
    return with_measuring_days(_on_their_days(whole, plan), plan.levels)


def _on_their_days(order: Order, plan: Plan) -> Order:
    """The order with every line on its level's day, also where that was moved by a plan that was not sent. Where the
    project limits deliveries or has price breaks, packs may come on other days than their level's, so the days stay."""
    project = plan.project
    if project.delivery_limits is not None:
        return order
    calendar = working_days_of(project.project.country)
    lines = []
    for line in order.lines:
        level = project.building.levels.get(line.level)
        product = project.building.products.get(line.code)
        if level is not None and product is not None:
            day, order_by = calendar.delivery_and_order(level.needed_on, product.lead_days)
            if line.deliver_on != day:
                line = line.model_copy(update={"deliver_on": day, "order_by": order_by})
        lines.append(line)
    return order.model_copy(update={"lines": tuple(lines)})


def as_recorded(placed: Order, plan: Plan) -> tuple[Order, dict[str, str]]:
    """What was placed, in whole packs, and no more than the plan's record has as ordered of each product; and by code,
    with its mend, what the record lacks although nothing says that it was taken back: the plan does not know of it."""
    recorded = ordered_on_record(plan)
    taken_back = _taken_back(plan)
    less: dict[tuple[str, str], int] = {}
    unknown: dict[str, str] = {}
    for code in dict.fromkeys(line.code for line in placed.lines):
        lines = [line for line in placed.lines if line.code == code]
        by_level = recorded.get(code, {})
        sent, on_record = sum(_units(line) for line in lines), sum(by_level.values())
        missing = sent - on_record
        for line in lines:
            held = by_level.get(line.level, 0)
            if missing > 0 and held < _units(line) and (held or (line.level, code) in taken_back):
                gone = min(missing, _units(line) - held)
                less[line.level, code] = line.packs - -(-(_units(line) - gone) // line.per_pack)
                missing -= gone
        if missing > 0:
            forecast = sum(_units(line) for line in lines if line.status == "forecast")
            unknown[code] = _unknown(code, sent, forecast, on_record)
    lines_left = tuple(_fewer(line, less.get((line.level, line.code), 0)) for line in placed.lines)
    standing = placed.model_copy(
        update={"lines": lines_left, "total": total_of(line.amount for line in lines_left)}
    )
    return standing, unknown


def _units(line: OrderLine) -> int:
    return line.packs * line.per_pack


def _fewer(line: OrderLine, packs: int) -> OrderLine:
    """A line with so many packs less, at the average of their prices."""
    if not packs:
        return line
    cents = cents_of(line.amount) * (line.packs - packs) // line.packs
    return line.model_copy(update={"packs": line.packs - packs, "amount": from_cents(cents)})


def _taken_back(plan: Plan) -> set[tuple[str, str]]:
    """The levels and products of which something was on record as ordered and was taken back."""
    undone = {event.undoes for event in plan.record.events if event.event == "undone"}
    return {
        (event.level, event.code)
        for event in plan.record.events
        if event.event == "ordered" and event.id and event.id in undone
    }


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
    for (level, code), units in ordered_by_line(plan).items():
        found.setdefault(code, {})[level] = units
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
