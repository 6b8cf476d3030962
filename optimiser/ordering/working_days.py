"""Counting back over a country's working days, so that an order reaches the supplier in time.

Public holidays and weekends are those of the `holidays` package (https://pypi.org/project/holidays/).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class WorkingDays:
    """The working days of a country; `known` is False when only Saturdays and Sundays are left out."""

    country: str
    known: bool
    is_working_day: Callable[[date], bool]

    def on_or_before(self, day: date) -> date:
        """`day` itself when it is a working day, otherwise the last one before it."""
        while not self.is_working_day(day) and day > date.min:
            day -= ONE_DAY
        return day

    def before(self, day: date, count: int) -> date:
        """The working day that lies `count` working days before `day` (0: `day` itself)."""
        for _ in range(count):
            if day <= date.min + ONE_DAY:
                return date.min
            day = self.on_or_before(day - ONE_DAY)
        return day

    def after(self, day: date, count: int) -> date:
        """The working day that lies `count` working days after `day`, or after the next one where `day` is none: when
        what is ordered on `day` comes, the way of `before` forwards."""
        remaining = count
        while not self.is_working_day(day) or remaining:
            remaining -= self.is_working_day(day)
            if day >= date.max - ONE_DAY:
                return date.max
            day += ONE_DAY
        return day

    def delivery_and_order(self, needed_on: date | None, lead_days: int) -> tuple[date | None, date | None]:
        """When what is needed on a day is delivered, and by when it must be ordered; None where no day is known."""
        if needed_on is None:
            return None, None
        deliver_on = self.on_or_before(needed_on)
        return deliver_on, self.before(deliver_on, lead_days)


def working_days_of(country: str) -> WorkingDays:
    """The working days of an ISO 3166 country, with its subdivision when given ('AU' or 'AU-NSW').

    A country that the package does not know gives weekends only, and says so by `known`; an unknown
    subdivision falls back to the country's own holidays, also marked as not known.
    """
    import holidays

    code, _, subdivision = country.partition("-")
    try:
        calendar = holidays.country_holidays(code, subdiv=subdivision or None)
        return WorkingDays(country, True, calendar.is_working_day)
    except (NotImplementedError, KeyError):
        pass
    if subdivision:
        return WorkingDays(country, False, working_days_of(code).is_working_day)
    return WorkingDays(country, False, _on_a_weekday)


def _on_a_weekday(day: date) -> bool:
    return day.weekday() < 5
