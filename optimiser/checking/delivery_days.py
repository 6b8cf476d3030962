"""Whether deliveries may come on a day: crane days, a weekday, every so many days, or working days."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from optimiser.checking.building import Building
from optimiser.model.project import WEEKDAYS, DeliveryLimits

IsWorkingDay = Callable[[date], bool]

_LONGEST_CLOSURE = 14  # days without a working day among them


def may_come(building: Building, limits: DeliveryLimits, day: date, is_working_day: IsWorkingDay) -> bool:
    """Whether a day is one of delivery.

    Every `every_days` days (7 where only a weekday is given) counts from the day on which the first level of the
    order needs its material, or the weekday before it; a day that falls on a non-working day is the working day before.
    """
    if limits.crane_days:
        return day in limits.crane_days
    if not is_working_day(day):
        return False
    step = limits.every_days or (7 if limits.delivery_weekday else 1)
    needed = [
        level.needed_on
        for line in building.plan.order.lines
        if line.packs
        and (level := building.levels.get(line.level)) is not None
        and level.needed_on is not None
    ]
    if step == 1 or not needed:
        return True
    first = min(needed)
    while limits.delivery_weekday and WEEKDAYS[first.weekday()] != limits.delivery_weekday:
        first -= timedelta(days=1)
    for later in range(_LONGEST_CLOSURE):
        nominal = day + timedelta(days=later)
        if later and is_working_day(nominal):
            return False  # what was due from then on comes then or later
        if (nominal - first).days % step == 0:
            return True
    return False


def last_day_in_time(
    building: Building, limits: DeliveryLimits, needed_on: date, is_working_day: IsWorkingDay
) -> date | None:
    """The last day of delivery on or before a day; None where crane days leave none."""
    day = needed_on
    first = min(limits.crane_days, default=needed_on - timedelta(days=800))
    while day >= first:
        if may_come(building, limits, day, is_working_day):
            return day
        day -= timedelta(days=1)
    return None
