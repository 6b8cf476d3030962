"""The sum of money that deliveries come to: goods, loads, storage, and a bound that a plain schedule cannot beat."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date
from fractions import Fraction
from itertools import pairwise
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.delivery_days import IsWorkingDay, last_day_in_time
from optimiser.checking.figures import figure
from optimiser.checking.on_site import use_days
from optimiser.checking.site_floor import layers, storage_taken
from optimiser.checking.truckloads import price_for, truckloads
from optimiser.model.order import DeliveryCosts
from optimiser.model.project import DeliveryLimits

_CENT = Fraction(1, 100)  # a tapered piece's area may be rounded by half a square millimetre


def broken_rules_of_delivery_costs(building: Building, is_working_day: IsWorkingDay) -> Iterator[str]:
    """The parts of the sum follow from the order; the total is their sum; the bound is no higher than it."""
    limits, costs = building.project.delivery_limits, building.plan.delivery_costs
    batched = any(line.packs for line in building.plan.order.lines)
    priced = limits is not None and (
        limits.delivery_cost is not None
        or limits.storage_cost is not None
        or bool(building.project.price_breaks)
    )
    if costs is None or limits is None:
        if priced and batched:
            yield "delivery_costs: deliveries are a matter of money here, but no sum is told"
        return
    if not priced:
        yield "delivery_costs: nothing makes deliveries a matter of money, but a sum is told"
        return
    m2_weeks = _m2_weeks(building)
    loads = sum(delivery.trucks or 1 for delivery in building.plan.deliveries)
    for field, due, slack in (
        ("goods", Fraction(building.plan.order.total), Fraction(0)),
        ("loads", Fraction(loads), Fraction(0)),
        ("delivery", Fraction(limits.delivery_cost or 0) * loads, Fraction(0)),
        ("storage", Fraction(limits.storage_cost or 0) * m2_weeks, _CENT),
        ("total", Fraction(costs.goods + costs.delivery + costs.storage + costs.waiting), Fraction(0)),
    ):
        said = getattr(costs, field)
        if abs(Fraction(said) - due) > slack:
            places = ".0f" if field == "loads" else ".2f"
            yield f"delivery_costs: {field} must be {figure(due, places)}, but is {said}"
    if abs(Fraction(costs.storage_m2_weeks) - m2_weeks) > Fraction(1, 1000):
        yield f"delivery_costs: storage_m2_weeks must be {float(m2_weeks):.3f}, but is {costs.storage_m2_weeks}"
    if costs.lower_bound > costs.total:
        yield (
            f"delivery_costs: the lower bound {costs.lower_bound} is above the sum"
            f" {costs.total} that was reached"
        )
    if costs.optimal != (costs.lower_bound == costs.total):
        yield f"delivery_costs: optimal must be {costs.lower_bound == costs.total}, but is {costs.optimal}"
    yield from _above_what_a_schedule_reaches(building, limits, costs, is_working_day)


def _m2_weeks(building: Building) -> Fraction:
    """Square metres times weeks: what stands in each night from the first arrival to the last day of use.

    Until the first boards are used only what has been bought counts, not the stock that is there anyway. Where dates
    run against the delivery order, boards are cut before they come: less than nothing counts as nothing.
    """
    first = min(use_days(building).values())
    use = {*use_days(building).values()} | {
        level.needed_on for level in building.project.levels if level.needed_on
    }
    arrivals = {line.deliver_on for line in building.plan.order.lines if line.packs and line.deliver_on}
    last = max(use)
    days = sorted(day for day in use | arrivals if day <= last)
    nights = Fraction(0)
    for day, following in pairwise(days):
        area = storage_taken(building, following, overnight=True)
        if following <= first:
            area -= _stock(building)
        nights += area * (following - day).days
    return max(Fraction(0), nights / (7 * 10**6))


def _stock(building: Building) -> Fraction:
    """The storage that stock takes from the start."""
    limits = building.project.delivery_limits or DeliveryLimits()
    return sum(
        (
            Fraction(row.quantity * row.length_mm * row.width_mm, layers(limits, board))
            for row in building.project.stock
            if row.level not in building.levels and (board := building.products[row.code]).kind == "board"
        ),
        Fraction(0),
    )


def _above_what_a_schedule_reaches(
    building: Building, limits: DeliveryLimits, costs: DeliveryCosts, is_working_day: IsWorkingDay
) -> Iterator[str]:
    """A bound must not be above a schedule at hand: every line on its last day, and all on the first of these.

    Only where nothing else limits the deliveries, so that both are schedules to compare with.
    """
    limited = limits.site_storage_m2, limits.trucks_a_delivery, limits.minimum_order
    if any(limit is not None for limit in limited):
        return
    last: dict[str, date] = {}
    for line in building.plan.order.lines:
        needed_on = building.levels[line.level].needed_on if line.level in building.levels else None
        if line.packs and needed_on is not None:
            day = last_day_in_time(building, limits, needed_on, is_working_day)
            if day is None:
                return
            last[line.level] = day
    together = dict.fromkeys(last, min(last.values()))
    for name, days in (("every line on its last day", last), ("all on the first day", together)):
        reached = _sum_with(building, limits, days) + Fraction(costs.waiting)
        if costs.lower_bound > Fraction(ceil(reached * 100), 100) + _CENT:
            yield (
                f"delivery_costs: the lower bound {costs.lower_bound} is above"
                f" {figure(reached, '.2f')}, what the order costs with {name}"
            )


def _sum_with(building: Building, limits: DeliveryLimits, days: dict[str, date]) -> Fraction:
    """Goods, loads and storage with each level's packs on a day."""
    packs: dict[date, Counter[str]] = {}
    moved = []
    for line in building.plan.order.lines:
        if line.packs:
            packs.setdefault(days[line.level], Counter())[line.code] += line.packs
            line = line.model_copy(update={"deliver_on": days[line.level]})
        moved.append(line)
    goods = sum(
        number * Fraction(price_for(building, code, number))
        for here in packs.values()
        for code, number in here.items()
    )
    loads = sum(truckloads(building, limits, here) or 1 for here in packs.values())
    order = building.plan.order.model_copy(update={"lines": tuple(moved)})
    other = Building(building.project, building.plan.model_copy(update={"order": order}))
    storage = Fraction(limits.storage_cost or 0) * _m2_weeks(other)
    return goods + Fraction(limits.delivery_cost or 0) * loads + storage
