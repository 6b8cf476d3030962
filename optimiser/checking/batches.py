"""Deliveries put together under the project's limits: days, prices by quantity, trucks, and what is not kept."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date

from optimiser.checking.building import Building
from optimiser.checking.dates import working_day_before
from optimiser.checking.delivery_costs import broken_rules_of_delivery_costs
from optimiser.checking.delivery_days import IsWorkingDay, may_come
from optimiser.checking.figures import figure
from optimiser.checking.site_floor import storage_taken
from optimiser.checking.truckloads import pallets, price_for, truckloads, weight_kg
from optimiser.model.money import NOTHING, money_text, total_of
from optimiser.model.order import Delivery, OrderLine
from optimiser.model.project import DeliveryLimits


def is_batched(building: Building) -> bool:
    """Whether the plan's deliveries are put together: the project has limits, and every level its day."""
    if building.project.delivery_limits is None or not building.plan.order.lines:
        return False
    levels = [building.levels.get(line.level) for line in building.plan.order.lines]
    return all(level is not None and level.needed_on is not None for level in levels)


def broken_rules_of_batches(building: Building, is_working_day: IsWorkingDay) -> Iterator[str]:
    """Every rule that the deliveries break when they are put together."""
    limits = building.project.delivery_limits or DeliveryLimits()
    arriving: dict[date, list[OrderLine]] = defaultdict(list)
    for line in building.plan.order.lines:
        if line.packs:
            yield from _broken_day(building, limits, line, is_working_day)
            if line.deliver_on is not None:
                arriving[line.deliver_on].append(line)
    for day, lines in arriving.items():
        yield from _broken_prices(building, day, lines)
    stated = Counter(delivery.deliver_on for delivery in building.plan.deliveries)
    for day in sorted(arriving):
        if stated[day] != 1:
            yield f"delivery of {day}: the order has packs for it, but {stated[day]} deliveries bring them"
    days = [delivery.deliver_on for delivery in building.plan.deliveries if delivery.deliver_on is not None]
    if days != sorted(days):
        yield "deliveries: they must stand in the order of their days"
    for delivery in building.plan.deliveries:
        lines = arriving.get(delivery.deliver_on, []) if delivery.deliver_on else []
        yield from _broken_delivery(building, limits, delivery, lines)
    yield from _limits_broken_in_silence(building, limits, sorted(arriving))
    yield from broken_rules_of_delivery_costs(building, is_working_day)


def _broken_day(
    building: Building, limits: DeliveryLimits, line: OrderLine, is_working_day: IsWorkingDay
) -> Iterator[str]:
    """A line comes in time, on a crane day or working day, and is ordered its lead time before."""
    place, level = f"order, {line.code} for {line.level}", building.levels[line.level]
    product, day = building.products.get(line.code), line.deliver_on
    if level.needed_on is None or product is None:
        return
    if day is None:
        yield f"{place}: it has no day of delivery"
        return
    if day > level.needed_on:
        yield f"{place}: it comes on {day}, but is needed on {level.needed_on}"
    if limits.crane_days:
        in_time = [crane for crane in limits.crane_days if crane <= level.needed_on]
        if day not in limits.crane_days and in_time:
            yield f"{place}: it comes on {day}, which is no crane day"
    elif not is_working_day(day):
        yield f"{place}: it comes on {day}, which is no working day"
    elif not may_come(building, limits, day, is_working_day):
        yield f"{place}: it comes on {day}, which is none of the days on which deliveries come"
    order_by = day
    for _ in range(product.lead_days):
        order_by = working_day_before(order_by, is_working_day)
    if line.order_by != order_by:
        yield f"{place}: order_by must be {order_by}, {product.lead_days} working days before {day}, but is {line.order_by}"  # noqa: E501


def _broken_prices(building: Building, day: date, lines: list[OrderLine]) -> Iterator[str]:
    """The price of a pack follows from how many packs of the product come that day."""
    packs: Counter[str] = Counter()
    for line in lines:
        packs[line.code] += line.packs
    for line in lines:
        product = building.products.get(line.code)
        if product is None:
            continue
        due = price_for(building, line.code, packs[line.code])
        place = f"order, {line.code} for {line.level}"
        if line.price != due:
            yield (
                f"{place}: price must be {money_text(due)}, that for {packs[line.code]} packs on {day}, but is"
                f" {money_text(line.price)}"
            )
        if line.amount != line.packs * due:
            yield f"{place}: amount must be {money_text(line.packs * due)}, but is {money_text(line.amount)}"


def _broken_delivery(
    building: Building, limits: DeliveryLimits, delivery: Delivery, lines: list[OrderLine]
) -> Iterator[str]:
    place = f"delivery of {delivery.deliver_on}"
    if not lines:
        yield f"{place}: the order has no packs for that day"
        return
    packs: Counter[str] = Counter()
    for line in lines:
        packs[line.code] += line.packs
    said = {code: number for code, number in delivery.packs.items() if number}
    for code in sorted({*packs, *said}):
        if packs[code] != said.get(code, 0):
            yield f"{place}: the order has {packs[code]} packs of {code}, but the delivery {said.get(code, 0)}"
    served = {line.level for line in lines}
    levels = tuple(level.level for level in building.levels_in_order if level.level in served)
    unweighed = [
        code
        for code in packs
        if (product := building.products.get(code)) and product.kind == "board" and product.weight_kg is None
    ]
    weight = weight_kg(building, packs)
    for field, due in (
        ("amount", total_of(line.amount for line in lines)),
        ("order_by", min((line.order_by for line in lines if line.order_by), default=None)),
        ("levels", levels),
        ("level", levels[0]),
        ("sequence", building.levels[levels[0]].sequence),
        ("pallets", pallets(building, limits, packs)),
        ("trucks", truckloads(building, limits, packs)),
        ("weight_kg", weight if weight and not unweighed else None),
    ):
        if getattr(delivery, field) != due:
            yield f"{place}: {field} must be {due}, but is {getattr(delivery, field)}"


def _limits_broken_in_silence(building: Building, limits: DeliveryLimits, days: list[date]) -> Iterator[str]:
    """A limit that cannot be kept must be told in a warning that names the worst day, and on how many it is so."""
    warnings = [warning.lower() for warning in building.plan.warnings]

    def told(*words: str) -> bool:
        return any(all(word.lower() in warning for word in words) for warning in warnings)

    def grouped(worst: object, number: int, what: str) -> tuple[str, ...]:
        return (str(worst), what) if number == 1 else (str(worst), str(number), what)

    if limits.site_storage_m2 is not None:
        taken = {day: storage_taken(building, day) for day in days}
        over = {day: area for day, area in taken.items() if area > limits.site_storage_m2 * 10**6}
        worst = max(over, key=lambda day: over[day], default=None)
        if worst is not None and not told(*grouped(worst, len(over), "storage")):
            yield (
                f"delivery of {worst}: {figure(over[worst] / 10**6, '.2f')} m2 of board stand on site, more than"
                f" {limits.site_storage_m2} m2, and no warning says so"
            )
    if limits.trucks_a_delivery is not None:
        many = [one for one in building.plan.deliveries if (one.trucks or 0) > limits.trucks_a_delivery]
        most = max(many, key=lambda one: one.trucks or 0, default=None)
        if most is not None and not told(*grouped(most.deliver_on, len(many), "trucks_a_delivery")):
            yield (
                f"delivery of {most.deliver_on}: it takes {most.trucks} truckloads, more than"
                f" {limits.trucks_a_delivery}, and no warning says so"
            )
    least = limits.minimum_order or NOTHING
    small = [one for one in building.plan.deliveries if one.amount < least]
    smallest = min(small, key=lambda one: one.amount, default=None)
    if smallest is not None and not told(*grouped(smallest.deliver_on, len(small), "minimum order")):
        yield (
            f"delivery of {smallest.deliver_on}: it comes to {money_text(smallest.amount)}, less than the minimum"
            f" order of {money_text(least)}, and no warning says so"
        )
    heavy = [there for there in building.plan.on_site if there.floor_load_kept is False]
    if heavy and not told("floor loading"):
        yield f"on_site, {heavy[0].day}: the floor's load is not kept, and no warning says so"
    if limits.crane_days:
        for line in building.plan.order.lines:
            if line.packs and line.deliver_on not in limits.crane_days and not told(line.level, "crane day"):
                yield (
                    f"order, {line.code} for {line.level}: it comes on {line.deliver_on}, no crane day, and no"
                    " warning says so"
                )
