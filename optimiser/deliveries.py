"""Which packs arrive together: an order's lines in deliveries that keep the site's and the supplier's limits.

Every line of the order arrives on one day, never after its level needs it. Days that matter are the latest
working day (or crane day) at which each level can still be served: whatever arrives between two of them could
as well arrive at the later one. A schedule that cannot keep a limit keeps it as nearly as possible and says
where, and by how much; `optimiser.delivery_schedule` finds it.

Without a truck's size a delivery has no cost that is known here, so nothing is brought forward unless a limit
or a price asks for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from optimiser.cutting.problem import Layout
from optimiser.delivery_schedule import Schedule, Unit, products_apart
from optimiser.ordering import first_order_day, money_of
from optimiser.plan import Delivery, Order, OrderLine, PlannedPiece, UsableLeftOver
from optimiser.project import KINDS, DeliveryLimits, Project, money_text
from optimiser.site_storage import CutOnSite, UseDays
from optimiser.working_days import WorkingDays


@dataclass(frozen=True)
class Batched:
    """An order with its lines on the days of their deliveries, the deliveries, and what could not be kept."""

    order: Order
    deliveries: tuple[Delivery, ...]
    warnings: tuple[str, ...]


def batch(
    project: Project,
    order: Order,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[Layout],
    usable: Sequence[UsableLeftOver],
    calendar: WorkingDays,
    seed: int = 0,
) -> Batched | None:
    """The order in deliveries that keep the project's limits, or None when it gives none.

    When a level of the order has no day, nothing can be scheduled: the order is as it was, with a warning.
    Raises ValueError for a sum of money that no building costs.
    """
    limits = project.delivery_limits
    if limits is None or not order.lines:
        return None
    undated = sorted({line.level for line in order.lines if line.deliver_on is None})
    if undated:
        return Batched(
            order,
            (),
            (
                f"Delivery limits are given, but {', '.join(undated)} {'has' if len(undated) == 1 else 'have'} no"
                " needed_on date, so deliveries are not put together: give every level its day.",
            ),
        )
    units, off_crane = _units(project, limits, order)
    on_site = CutOnSite.of(project, pieces, layouts, usable)
    schedule = Schedule(project, limits, units, on_site, UseDays.of(project, order))
    arrives, proved = schedule.solve(seed)
    dated = _on_their_days(project, order, units, arrives, calendar)
    deliveries = _deliveries(project, limits, dated)
    warnings = [
        *_off_crane(project, off_crane),
        *_too_much_on_site(project, limits, schedule, arrives),
        *_too_small(project, limits, deliveries),
    ]
    if not proved:
        warnings.append(
            "Deliveries: the schedule keeps the limits as said, but was not proved the best in the steps allowed."
        )
    return Batched(dated, deliveries, tuple(warnings))


def price_of(project: Project, code: str, packs: int) -> int:
    """The price of a pack, in cents, where a delivery brings so many packs of a product."""
    price = project.product(code).price_cents
    for row in sorted(project.price_breaks, key=lambda row: row.from_packs):
        if row.code == code and packs >= row.from_packs:
            price = row.price_cents
    return price


def pallets_of(project: Project, packs: Mapping[str, int]) -> int:
    """How many pallets the boards among `packs` take: each product on pallets of its own."""
    limits = project.delivery_limits
    holds = (limits.pallet_packs if limits else None) or 1
    boards = {product.code for product in project.products_of("board")}
    return sum(-(-number // holds) for code, number in packs.items() if code in boards)


def _units(
    project: Project, limits: DeliveryLimits, order: Order
) -> tuple[tuple[Unit, ...], tuple[str, ...]]:
    """The lines that bring packs, as units with their days; and the levels that no crane day can serve."""
    own = products_apart(project)
    level_of = {level.level: level for level in project.levels}
    together: dict[tuple[str, str], list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs:
            together[line.level, line.code if line.code in own else ""].append(line)
    latest: dict[str, date] = {}
    off_crane = []
    for level_name, _ in together:
        level = level_of[level_name]
        if level_name in latest or level.needed_on is None:
            continue
        on_crane = [day for day in limits.crane_days if day <= level.needed_on]
        due = next(line.deliver_on for line in order.lines if line.level == level_name)
        if on_crane:
            latest[level_name] = max(on_crane)
        elif due is not None:
            latest[level_name] = due
            if limits.crane_days:
                off_crane.append(level_name)
    days = sorted({day for level, day in latest.items() if level not in off_crane})
    units = []
    for (level_name, _), lines in together.items():
        last = latest[level_name]
        slots = (last,) if level_name in off_crane else tuple(day for day in days if day <= last)
        units.append(Unit(tuple(lines), slots))
    return tuple(units), tuple(off_crane)


def _on_their_days(
    project: Project,
    order: Order,
    units: Sequence[Unit],
    arrives: Sequence[date],
    calendar: WorkingDays,
) -> Order:
    """The order with each line on its delivery's day, ordered in time, at the price for that day's packs."""
    day_of = {
        (line.level, line.code): day for unit, day in zip(units, arrives, strict=True) for line in unit.lines
    }
    packs: dict[tuple[date, str], int] = defaultdict(int)
    for line in order.lines:
        if line.packs:
            packs[day_of[line.level, line.code], line.code] += line.packs
    lines = []
    for line in order.lines:
        if line.packs:
            day = day_of[line.level, line.code]
            price = price_of(project, line.code, packs[day, line.code])
            line = line.model_copy(
                update={
                    "deliver_on": day,
                    "order_by": calendar.before(day, project.product(line.code).lead_days),
                    "price": price,
                    "amount": line.packs * price,
                }
            )
        lines.append(line)
    total = money_of(sum(line.amount for line in lines))
    return Order(lines=tuple(lines), total=total, currency=order.currency)


def _deliveries(project: Project, limits: DeliveryLimits, order: Order) -> tuple[Delivery, ...]:
    """What arrives on each day, in order of time."""
    by_day: dict[date, list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs and line.deliver_on is not None:
            by_day[line.deliver_on].append(line)
    in_trade_order = [
        product.code for product in sorted(project.products, key=lambda product: KINDS.index(product.kind))
    ]
    found = []
    for day, lines in sorted(by_day.items()):
        here = {line.level for line in lines}
        levels = [level for level in project.levels_in_order() if level.level in here]
        packs: dict[str, int] = {}
        for line in lines:
            packs[line.code] = packs.get(line.code, 0) + line.packs
        pallets = pallets_of(project, packs)
        found.append(
            Delivery(
                level=levels[0].level,
                sequence=levels[0].sequence,
                deliver_on=day,
                order_by=first_order_day(lines),
                packs={code: packs[code] for code in in_trade_order if code in packs},
                amount=money_of(sum(line.amount for line in lines)),
                levels=tuple(level.level for level in levels),
                trucks=max(1, -(-pallets // limits.truck_pallets)) if limits.truck_pallets else None,
                pallets=pallets,
            )
        )
    return tuple(found)


def _off_crane(project: Project, levels: Sequence[str]) -> Iterable[str]:
    limits = project.delivery_limits
    first = min(limits.crane_days) if limits and limits.crane_days else None
    for level in project.levels_in_order():
        if level.level in levels and first is not None and level.needed_on is not None:
            yield (
                f"Deliveries: level {level.level} is needed on {level.needed_on}, and the first crane day,"
                f" {first}, is {(first - level.needed_on).days} days later: it is delivered without a crane day."
            )


def _too_much_on_site(
    project: Project, limits: DeliveryLimits, schedule: Schedule, arrives: Sequence[date]
) -> Iterable[str]:
    if limits.site_storage_m2 is None:
        return
    for day in sorted(set(arrives)):
        standing = schedule.standing(arrives, day)
        over = standing - limits.site_storage_m2 * 10**6
        if over > 0:
            here = {
                line.level
                for unit, at in zip(schedule.units, arrives, strict=True)
                if at == day
                for line in unit.lines
            }
            levels = [level.level for level in project.levels_in_order() if level.level in here]
            yield (
                f"Deliveries: on {day}, with the delivery for {', '.join(levels)}, {_m2(standing)} m2 of board"
                f" stand on site, {_m2(over)} m2 more than its storage of {limits.site_storage_m2} m2."
            )


def _too_small(project: Project, limits: DeliveryLimits, deliveries: Sequence[Delivery]) -> Iterable[str]:
    least = limits.minimum_order_cents or 0
    for delivery in deliveries:
        if delivery.amount < least:
            currency = project.project.currency
            yield (
                f"Deliveries: that of {delivery.deliver_on} for {', '.join(delivery.levels)} comes to {currency}"
                f" {money_text(delivery.amount)}, {currency} {money_text(least - delivery.amount)} below the"
                f" minimum order of {currency} {money_text(least)}."
            )


def _m2(area_mm2: int) -> str:
    """Square metres to one place, rounded up, so that what is above a limit never shows as 0.0."""
    tenths = -(-area_mm2 // 100_000)
    return f"{tenths // 10}.{tenths % 10}"
