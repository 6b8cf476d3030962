"""Which other days a delivery could come on, and which other staging would keep the limits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from optimiser.ordering.broken_limits import Broken, Judged, Kind, much_of
from optimiser.ordering.dated_plan import DatedPlan, Dates
from optimiser.ordering.working_days import ONE_DAY

MOST_DAYS = 91
"""How far from the day that was asked for another one is looked for, each way."""


@dataclass(frozen=True)
class FittingDay:
    """A day on which a delivery could come: `left` is what still breaks then, none of it more than with the plan's own
    dates; empty where nothing does."""

    day: date
    left: tuple[Broken, ...]


@dataclass(frozen=True)
class Moved:
    """A plan's delivery, by its place in the plan's list from 0, asked for on a day; `dates` are those before, with
    whatever else was moved."""

    dated: DatedPlan
    dates: Dates
    place: int
    day: date
    today: date
    ordered: bool = False

    def judged(self, day: date | None = None) -> Judged:
        """The dates with the delivery on its day, or another one, to be looked through."""
        moved = self.dated.moved(self.dates, self.place, day or self.day)
        return Judged(self.dated, moved, self.today, self.ordered)


def fitting_days(moved: Moved) -> tuple[FittingDay, ...]:
    """The nearest earlier and the nearest later day that fit, earliest first: days on which nothing breaks; where
    there is none on either side, days on which nothing breaks more than with the plan's own dates.

    None of them is before today, nor more than MOST_DAYS away from the day that was asked for.
    """
    own = Judged(moved.dated, moved.dated.planned, moved.today, moved.ordered).broken()
    allowed = much_of(own)
    nothing: Mapping[Kind, int] = {}
    found = [_nearest(moved, days, nothing) for days in _both_ways(moved)]
    if not any(found) and allowed:
        found = [_nearest(moved, days, allowed) for days in _both_ways(moved)]
    return tuple(sorted((one for one in found if one), key=lambda one: one.day))


def _both_ways(moved: Moved) -> tuple[Iterator[date], Iterator[date]]:
    start = max(moved.day, moved.today - ONE_DAY)
    earlier = (start - ONE_DAY * count for count in range(1, MOST_DAYS + 1))
    later = (start + ONE_DAY * count for count in range(1, MOST_DAYS + 1))
    return (day for day in earlier if day >= moved.today), later


def _nearest(moved: Moved, days: Iterator[date], allowed: Mapping[Kind, int]) -> FittingDay | None:
    """The first day of delivery on which no kind breaks more than is allowed."""
    order_days: dict[tuple[date, int], date] = {}
    crane_days, calendar = moved.dated.limits.crane_days, moved.dated.calendar
    for day in days:
        if day not in crane_days if crane_days else not calendar.is_working_day(day):
            continue
        dates = moved.dated.moved(moved.dates, moved.place, day)
        left = []
        for broken in Judged(moved.dated, dates, moved.today, moved.ordered, order_days).findings():
            if broken.much > allowed.get(broken.kind, 0):
                break
            left.append(broken)
        else:
            return FittingDay(day, tuple(left))
    return None


def plans_that_fit(
    others: Iterable[tuple[str, DatedPlan | None]],
    needs: Mapping[str, date],
    today: date,
    *,
    ordered: bool = False,
) -> tuple[str, ...]:
    """The names of those plans of which nothing breaks when these levels are needed on these days ({}: as planned);
    one that has no deliveries on days is none of them."""
    found = []
    for name, dated in others:
        if dated is not None:
            dates = dated.with_needs(needs) if needs else dated.planned
            if next(Judged(dated, dates, today, ordered).findings(), None) is None:
                found.append(name)
    return tuple(found)
