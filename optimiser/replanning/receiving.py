"""Goods against order: what came short, wrong or damaged, which levels that endangers, and what to do about it.

The needs are those of the plan that follows from the record, so what is cut, fitted and on site already counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date
from math import ceil

from optimiser.model.immutable import Immutable
from optimiser.model.needs import LevelNeeds
from optimiser.model.order import OrderLine
from optimiser.model.plan import Plan
from optimiser.model.project import Product, Project
from optimiser.model.record import Record
from optimiser.ordering.order import needed_by_level
from optimiser.ordering.working_days import WorkingDays, working_days_of
from optimiser.replanning.supply import fitted_needs
from optimiser.takeoff.quantities import unit_of

Line = tuple[str, str]
"""A level, or '' where none was named, and a product's code."""


class ReceivedLine(Immutable):
    """One product for one level, in single units: what was ordered, and what came of it.

    `on_order` is to come still; `missing` did not come with the delivery that came; `not_ordered` came without being
    ordered for this level; `damaged` came and is lost.
    """

    level: str
    code: str
    ordered: int
    delivered: int
    on_order: int
    missing: int
    not_ordered: int
    damaged: int


class FromDelivery(Immutable):
    """So many units of what is on order for a later `level`."""

    level: str
    quantity: int


class Endangered(Immutable):
    """A level that will be `short` so many units of a product on its day, and what helps: units that are on order for
    later levels, to be `brought_forward`, and what must be ordered by `reorder_by` (None: no day is known). Where that
    day has passed, `comes_on` is when what is ordered now would come."""

    level: str
    code: str
    needed_on: date | None
    short: int
    brought_forward: tuple[FromDelivery, ...]
    reorder: int
    reorder_by: date | None
    comes_on: date | None = None


def received_lines(plan: Plan) -> tuple[ReceivedLine, ...]:
    """The goods against order of a plan and the record that it holds, as `received` tells them."""
    return received(plan.project, plan.record)


def received(project: Project, record: Record) -> tuple[ReceivedLine, ...]:
    """Every line that was ordered or came, in the order of delivery and of the trade; what came for no level in
    particular serves the first that wait for it."""
    counted: dict[str, Counter[Line]] = {"ordered": Counter(), "delivered": Counter(), "scrapped": Counter()}
    for event in record.standing:
        if event.event in counted and event.code and not event.piece and not event.board:
            counted[event.event][event.level, event.code] += event.quantity or 0
    ordered, delivered, scrapped = counted["ordered"], counted["delivered"], counted["scrapped"]
    place = project.building.place_of_level
    trade = {product.code: number for number, product in enumerate(project.building.in_trade_order)}
    lines = sorted(
        {*ordered, *delivered, *scrapped},
        key=lambda line: (place.get(line[0], len(place)), trade.get(line[1], len(trade))),
    )
    unnamed = Counter({code: number for (level, code), number in delivered.items() if not level})
    found = []
    for level, code in lines:  # what names no level comes last, and has served the others by then
        asked = ordered[level, code]
        came = delivered[level, code] if level else unnamed[code]
        if level and came < asked:
            served = min(asked - came, unnamed[code])
            unnamed[code] -= served
            came += served
        still = max(0, asked - came)
        found.append(
            ReceivedLine(
                level=level,
                code=code,
                ordered=asked,
                delivered=came,
                on_order=0 if came else still,
                missing=still if came else 0,
                not_ordered=max(0, came - asked),
                damaged=scrapped[level, code],
            )
        )
    return tuple(found)


def endangered_levels(plan: Plan, today: date | None = None) -> tuple[Endangered, ...]:
    """The levels that will be short of something, in the order of delivery. What is `missing` is not counted on.

    What the plan orders itself counts for its own level where it can still come in time: its order day is not before
    `today` (None: the day of the last event on record); else for the first level after it that it comes for when it is
    ordered today. It is not on order yet, so it cannot be brought forward.
    """
    today = today or last_day(plan)
    lines = received_lines(plan)
    return tuple(
        one
        for product in plan.project.building.in_trade_order
        for one in _endangered(
            plan, product.code, [line for line in lines if line.code == product.code], today
        )
    )


def last_day(plan: Plan) -> date:
    """The day of the last event on a plan's record: how things stood then is what is known."""
    return plan.record.events[-1].at.date() if plan.record.events else date.min


def _endangered(plan: Plan, code: str, lines: list[ReceivedLine], today: date) -> Iterator[Endangered]:
    supplied = next((item for item in plan.job.supplied if item.code == code), None)
    if supplied is None:
        return
    building = plan.project.building
    product = plan.project.product(code)
    unit = unit_of(product)
    there = supplied.delivered * unit - supplied.lost * unit - supplied.used
    on_order = Counter({line.level: line.on_order * unit for line in lines if line.on_order})
    there += on_order.pop("", 0)
    ordered_now = Counter[str | None]()
    calendar = working_days_of(plan.project.project.country)
    for own in plan.order.lines:
        if own.code == code and own.packs:
            serves = _served_by(plan, own, product, today, calendar)
            ordered_now[serves] += own.packs * own.per_pack * unit
    needs = open_needs(plan)
    waiting = [level.level for level in plan.project.levels_in_order()]
    for number, name in enumerate(waiting):
        there += on_order.pop(name, 0) + ordered_now[name] - needs.of(name, code)
        if there >= 0:
            continue
        short = ceil(-there / unit)
        brought: list[FromDelivery] = []
        left = short
        for later in reversed(waiting[number + 1 :]):  # the last one has the most time to be ordered again
            units = min(left, on_order[later] // unit)
            if units:
                brought.append(FromDelivery(level=later, quantity=units))
                on_order[later] -= units * unit
                left -= units
        _, order_by = days_of(plan.project, name, product, calendar)
        too_late = left and order_by is not None and order_by < today
        yield Endangered(
            level=name,
            code=code,
            needed_on=building.levels[name].needed_on,
            short=short,
            brought_forward=tuple(brought),
            reorder=left,
            reorder_by=order_by if left else None,
            comes_on=calendar.after(today, product.lead_days) if too_late else None,
        )
        there = 0


def _served_by(
    plan: Plan, line: OrderLine, product: Product, today: date, calendar: WorkingDays
) -> str | None:
    """The level that a line serves which is ordered today, its own or a later one; None where it comes for none."""
    if line.order_by is None or line.order_by >= today:
        return line.level
    comes_on = calendar.after(today, product.lead_days)
    place = plan.project.building.place_of_level
    return next(
        (
            level.level
            for level in plan.project.levels_in_order()
            if place[level.level] > place[line.level]
            and (level.needed_on is None or level.needed_on >= comes_on)
        ),
        None,
    )


def days_of(
    project: Project, level: str, product: Product, calendar: WorkingDays
) -> tuple[date | None, date | None]:
    """When a level's delivery of a product comes, and by when it must be ordered; None where no day is known."""
    found = project.building.levels.get(level)
    return calendar.delivery_and_order(None if found is None else found.needed_on, product.lead_days)


def open_needs(plan: Plan) -> LevelNeeds:
    """What the levels still need, by level and code (tape in mm): whole boards by the level that opens them, and
    brackets, anchors and tape of what is not fitted."""
    building = plan.project.building
    whole = {item.name: item.code for item in plan.job.at_hand if item.whole}
    boards: dict[str, Counter[str]] = {}
    for layout in plan.layouts:
        code = whole.get(layout.stock, layout.stock)
        if code in building.boards:
            level = building.delivered_together[layout.sequence][0]
            boards.setdefault(level, Counter())[code] += layout.repeat
    fitted = fitted_needs(
        plan.project, plan.pieces, {piece.id for piece in plan.pieces if piece.status == "fitted"}
    )
    in_all: Mapping[str, Mapping[str, int]] = needed_by_level(plan.project, LevelNeeds(boards), plan.counts)
    return LevelNeeds(
        {
            level: {
                code: number if code in building.boards else max(0, number - fitted.of(level, code))
                for code, number in here.items()
            }
            for level, here in in_all.items()
        }
    )
