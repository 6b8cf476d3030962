"""The days on which deliveries may come, and on which of them each line of the order may."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from optimiser.model.order import Order, OrderLine
from optimiser.model.project import WEEKDAYS, DeliveryLimits, Project
from optimiser.ordering.working_days import ONE_DAY, WorkingDays

_LONGEST_CLOSURE = timedelta(days=14)  # of working days; looked over when a day is moved back
_MOST_DAYS = 2000


@dataclass(frozen=True)
class Unit:
    """Lines that arrive together: a product of a level, or all that a level needs but boards."""

    lines: tuple[OrderLine, ...]
    slots: tuple[date, ...]  # the days on which it may arrive, earliest first


def products_apart(project: Project) -> frozenset[str]:
    """Products that are scheduled by themselves: boards, and what has price breaks; the rest comes together."""
    return frozenset([*project.building.boards, *(row.code for row in project.price_breaks)])


@dataclass(frozen=True)
class DeliveryDays:
    """The days on which deliveries may come: crane days, or every so many days, or every working day.

    Every so many days counts from `first`: the day on which the first level needs its material, or the chosen
    weekday before it. A non-working day is moved to the last working day before it.
    """

    limits: DeliveryLimits
    calendar: WorkingDays
    first: date

    @classmethod
    def of(cls, limits: DeliveryLimits, calendar: WorkingDays, first_needed: date) -> DeliveryDays:
        """The days of a project whose first level needs its material on a day."""
        first = first_needed
        if limits.delivery_weekday:
            first -= timedelta(days=(first.weekday() - WEEKDAYS.index(limits.delivery_weekday)) % 7)
        return cls(limits, calendar, first)

    def on_or_before(self, day: date) -> date | None:
        """The last day of delivery that is not after a day; None when there is none."""
        if self.limits.crane_days:
            return max((crane for crane in self.limits.crane_days if crane <= day), default=None)
        step = self.limits.every_days or (7 if self.limits.delivery_weekday else None)
        if step is None:
            return self.calendar.on_or_before(day)
        turn = (day + _LONGEST_CLOSURE - self.first).days // step
        while (found := self.calendar.on_or_before(self.first + timedelta(days=step * turn))) > day:
            turn -= 1
        return found


def loads_of(project: Project, limits: DeliveryLimits, packs: Mapping[str, int]) -> int:
    """Truckloads that bring packs: one at least, and as many as their pallets of boards and their weight take."""
    loads = 1
    if limits.truck_pallets:
        loads = max(loads, -(-pallets_of(project, packs) // limits.truck_pallets))
    if limits.truck_payload_kg:
        loads = max(loads, -(-grams_of(project, packs) // (limits.truck_payload_kg * 1000)))
    return loads


def pallets_of(project: Project, packs: Mapping[str, int]) -> int:
    """How many pallets the boards among `packs` take: each product on pallets of its own."""
    limits = project.delivery_limits
    holds = (limits.pallet_packs if limits else None) or 1
    boards = project.building.boards
    return sum(-(-number // holds) for code, number in packs.items() if code in boards)


def pack_grams(project: Project) -> dict[str, int]:
    """What a pack of each product weighs, in grams; products without a weight are left out."""
    return {
        product.code: int(product.weight_kg * 1000) * product.per_pack
        for product in project.products
        if product.weight_kg is not None
    }


def grams_of(project: Project, packs: Mapping[str, int]) -> int:
    """What packs weigh, in grams; a product without a weight counts as nothing."""
    grams = pack_grams(project)
    return sum(number * grams.get(code, 0) for code, number in packs.items())


def units_of(
    project: Project, limits: DeliveryLimits, order: Order, calendar: WorkingDays
) -> tuple[tuple[Unit, ...], tuple[str, ...]]:
    """The lines that bring packs, as units with their days; and the levels that no crane day can serve.

    Every level of the order has its day. Days that matter are the latest on which each level can still be served:
    what arrives between two of them could as well arrive at the later one. Where a day takes only so many
    truckloads, earlier days are added until all that is due can come.
    """
    own = products_apart(project)
    needed = {level.level: level.needed_on for level in project.levels if level.needed_on is not None}
    together: dict[tuple[str, str], list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs:
            together[line.level, line.code if line.code in own else ""].append(line)
    levels = dict.fromkeys(level for level, _ in together)
    if not levels:
        return (), ()
    days = DeliveryDays.of(limits, calendar, min(needed[level] for level in levels))
    latest: dict[str, date] = {}
    off_crane = []
    for level in levels:
        day = days.on_or_before(needed[level])
        if day is None:
            off_crane.append(level)
            day = calendar.on_or_before(needed[level])
        latest[level] = day
    due: Counter[date] = Counter()
    for (level, _), lines in together.items():
        if level not in off_crane:
            packs = {line.code: line.packs for line in lines}
            brings_loads = pallets_of(project, packs) or limits.truck_payload_kg
            due[latest[level]] += loads_of(project, limits, packs) if brings_loads else 0
    found = _days_that_matter(days, due, limits.trucks_a_delivery)
    units = []
    for (level, _), lines in together.items():
        last = latest[level]
        slots = (last,) if level in off_crane else tuple(day for day in found if day <= last)
        units.append(Unit(tuple(lines), slots))
    return tuple(units), tuple(off_crane)


def _days_that_matter(days: DeliveryDays, due: Mapping[date, int], most: int | None) -> list[date]:
    """The days on which something is due, and earlier ones for what more than `most` loads a day leave over.

    Loads are counted line by line, so that there are days enough for lines that do not share a truck; half of
    the loads of a day count as taken, since lines are not divided.
    """
    if most is None or not due:
        return sorted(due)
    taken = (most + 1) // 2
    found = set(due)
    over, day = 0, max(due)
    for _ in range(_MOST_DAYS):
        over = max(0, over + due.get(day, 0) - taken)
        before = days.on_or_before(day - ONE_DAY)
        if before is None or (not over and before < min(due)):
            break
        day = before
        if over:
            found.add(day)
    return sorted(found)
