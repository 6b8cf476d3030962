"""A schedule of deliveries and which of its limits it does not keep."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from optimiser.model.money import NOTHING
from optimiser.model.order import Delivery
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_schedule import Limit, Schedule

ScheduleOf = Callable[[Project], Schedule]


@dataclass(frozen=True)
class Unkept:
    """A schedule and its deliveries, to be looked through for limits that it does not keep."""

    project: Project
    schedule: Schedule
    arrives: tuple[date, ...]
    deliveries: tuple[Delivery, ...]
    off_crane: tuple[str, ...]

    @property
    def limits(self) -> DeliveryLimits:
        """The project's limits."""
        return self.schedule.limits

    def too_much_on_site(self) -> dict[date, int]:
        """Where storage is not kept: what stands that day, in the floor's mm2 / parts."""
        if self.limits.site_storage_m2 is None:
            return {}
        most = self.limits.site_storage_m2 * 10**6 * self.schedule.floor.parts
        standing = {day: self.schedule.standing(self.arrives, day) for day in sorted(set(self.arrives))}
        return {day: area for day, area in standing.items() if area > most}

    def too_many_trucks(self) -> list[Delivery]:
        """The deliveries with more truckloads than may come on a day."""
        most = self.limits.trucks_a_delivery
        return [] if most is None else [one for one in self.deliveries if (one.trucks or 0) > most]

    def too_small(self) -> list[Delivery]:
        """The deliveries below the minimum order."""
        least = self.limits.minimum_order or NOTHING
        return [one for one in self.deliveries if one.amount < least]

    def kept(self) -> frozenset[Limit]:
        """The limits that this schedule keeps."""
        broken: dict[Limit, bool] = {
            "storage": bool(self.too_much_on_site()),
            "trucks": bool(self.too_many_trucks()),
            "minimum": bool(self.too_small()),
        }
        return frozenset(limit for limit, is_broken in broken.items() if not is_broken)

    def levels_on(self, day: date) -> tuple[str, ...]:
        """The levels that a day's delivery is for, in order of delivery."""
        return tuple(name for one in self.deliveries if one.deliver_on == day for name in one.levels)
