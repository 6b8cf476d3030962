"""Which packs arrive together: an order's lines in deliveries that keep the site's and the supplier's limits.

Every line of the order arrives on one day, never after its level needs it. A schedule that cannot keep a limit keeps
it as nearly as possible and says where, by how much, and what would keep it; `optimiser.ordering.delivery_schedule`
finds it, `optimiser.ordering.delivery_warnings` says it.

A delivery brings what its levels cut next: nothing is brought forward unless a limit or a price asks for it, or the
project chooses the fewest loads.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from optimiser.model.money import NOTHING, believable, from_cents, total_of
from optimiser.model.order import Delivery, DeliveryCosts, Order, OrderLine
from optimiser.model.planned_boards import PlannedPattern, UsableLeftOver
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_days import grams_of, loads_of, pallets_of, units_of
from optimiser.ordering.delivery_schedule import Schedule, Solved, money_matters, storage_cents
from optimiser.ordering.delivery_warnings import StagingPeak, warnings_of_deliveries
from optimiser.ordering.order import first_order_day
from optimiser.ordering.price_breaks import price_of
from optimiser.ordering.site_floor import SiteFloor, to_the_gram
from optimiser.ordering.site_storage import UseDays
from optimiser.ordering.unkept_limits import Unkept
from optimiser.ordering.working_days import WorkingDays


@dataclass(frozen=True)
class Batched:
    """An order with its lines on the days of their deliveries, the deliveries, and what could not be kept.

    `costs` is None where no price makes the deliveries a matter of money.
    """

    order: Order
    deliveries: tuple[Delivery, ...]
    warnings: tuple[str, ...]
    costs: DeliveryCosts | None = None


def batch(
    project: Project,
    order: Order,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[PlannedPattern],
    usable: Sequence[UsableLeftOver],
    calendar: WorkingDays,
    seed: int = 0,
    waiting_cents: int = 0,
    other_stagings: Callable[[], Iterable[StagingPeak]] = tuple,
) -> Batched | None:
    """The order in deliveries that keep the project's limits, or None when it gives none.

    `waiting_cents` is what the cutting's waiting costs: no schedule changes it, so it joins the sum of money and its
    bound as it is. `other_stagings` is asked only where the site's storage is not kept, and tells what the others
    take. When a level of the order has no day, nothing can be scheduled: the order is as it was,
    with a warning. Raises ValueError for a sum of money that no building costs.
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

    floor = SiteFloor.of(project, pieces, layouts, usable, order)

    def schedule_of(changed: Project) -> tuple[Schedule, tuple[str, ...]]:
        """The schedule's program for other days of the levels, or other days of delivery."""
        its_limits = changed.delivery_limits or limits
        units, off_crane = units_of(changed, its_limits, order, calendar)
        moved = replace(floor, use=UseDays.of(changed, order))
        return Schedule(changed, its_limits, units, moved), off_crane

    schedule, off_crane = schedule_of(project)
    if not schedule.units:
        return Batched(order, (), ())
    solved = schedule.solve(seed)
    dated = _on_their_days(project, order, schedule, solved.arrives, calendar)
    deliveries = _deliveries(project, limits, dated)
    unkept = Unkept(project, schedule, solved.arrives, deliveries, off_crane)
    warnings = warnings_of_deliveries(
        unkept, lambda changed: schedule_of(changed)[0], calendar, other_stagings, seed
    )
    if not solved.proved:
        warnings = (
            *warnings,
            "Deliveries: the schedule keeps the limits as said, but was not proved the best in the steps allowed.",
        )
    costs = None
    if money_matters(project, limits):
        costs = _costs(schedule, solved, dated, deliveries, waiting_cents)
    return Batched(dated, deliveries, warnings, costs)


def _costs(
    schedule: Schedule,
    solved: Solved,
    order: Order,
    deliveries: Sequence[Delivery],
    waiting_cents: int,
) -> DeliveryCosts:
    """The sum of money and its bound; the exact sum is rounded to the cent once, and the bound alike."""
    limits, floor = schedule.limits, schedule.floor
    loads = sum(delivery.trucks or 1 for delivery in deliveries)
    nights = schedule.area_nights(solved.arrives)
    storage = _to_the_cent(storage_cents(limits, floor, nights))
    delivery = (limits.delivery_cost or NOTHING) * loads
    waiting = from_cents(waiting_cents)
    total = believable(total_of((order.total, delivery, storage, waiting)))
    bound = _to_the_cent(solved.bound_cents or Fraction(0)) + waiting
    return DeliveryCosts(
        goods=order.total,
        loads=loads,
        delivery=delivery,
        storage_m2_weeks=to_the_gram(Fraction(nights, 7 * 10**6 * floor.parts)),
        storage=storage,
        waiting=waiting,
        total=total,
        lower_bound=min(bound, total),
        optimal=bound >= total,
    )


def _to_the_cent(cents: Fraction) -> Decimal:
    """Cents as an amount, halves up, so that a bound rounded alike stays a bound."""
    return from_cents((2 * cents.numerator + cents.denominator) // (2 * cents.denominator))


def _on_their_days(
    project: Project,
    order: Order,
    schedule: Schedule,
    arrives: Sequence[date],
    calendar: WorkingDays,
) -> Order:
    """The order with each line on its delivery's day, ordered in time, at the price for that day's packs."""
    day_of = {
        (line.level, line.code): day
        for unit, day in zip(schedule.units, arrives, strict=True)
        for line in unit.lines
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
    total = believable(total_of(line.amount for line in lines))
    return Order(lines=tuple(lines), total=total, currency=order.currency)


def _deliveries(project: Project, limits: DeliveryLimits, order: Order) -> tuple[Delivery, ...]:
    """What arrives on each day, in order of time."""
    by_day: dict[date, list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs and line.deliver_on is not None:
            by_day[line.deliver_on].append(line)
    in_trade_order = [product.code for product in project.building.in_trade_order]
    unweighed = {board.code for board in project.boards if board.weight_kg is None}
    sized = limits.truck_pallets is not None or limits.truck_payload_kg is not None
    found = []
    for day, lines in sorted(by_day.items()):
        here = {line.level for line in lines}
        levels = [level for level in project.levels_in_order() if level.level in here]
        packs: dict[str, int] = {}
        for line in lines:
            packs[line.code] = packs.get(line.code, 0) + line.packs
        grams = grams_of(project, packs)
        found.append(
            Delivery(
                level=levels[0].level,
                sequence=levels[0].sequence,
                deliver_on=day,
                order_by=first_order_day(lines),
                packs={code: packs[code] for code in in_trade_order if code in packs},
                amount=believable(total_of(line.amount for line in lines)),
                levels=tuple(level.level for level in levels),
                trucks=loads_of(project, limits, packs) if sized else None,
                pallets=pallets_of(project, packs),
                weight_kg=to_the_gram(Fraction(grams, 1000))
                if grams and not unweighed & packs.keys()
                else None,
            )
        )
    return tuple(found)
