"""Working days, counted back by the judge's own hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

from optimiser.model.project import Level


def working_days_of(country: str) -> Callable[[date], bool]:
    """Whether a day is worked in a country ('AU') or its part ('AU-NSW'), by the `holidays` package.

    An unknown part falls back to its country, an unknown country to Mondays to Fridays.
    """
    import holidays

    code, _, part = country.partition("-")
    for subdivision in (part, None) if part else (None,):
        try:
            calendar = holidays.country_holidays(code, subdiv=subdivision)
        except (NotImplementedError, KeyError):
            continue
        return lambda day: bool(calendar.is_working_day(day))
    return lambda day: day.weekday() < 5


def working_day_before(day: date, is_working_day: Callable[[date], bool]) -> date:
    """The last working day before a day; the calendar's first day when there is none."""
    while day > date.min:
        day -= timedelta(days=1)
        if is_working_day(day):
            break
    return day


def delivery_day(level: Level, is_working_day: Callable[[date], bool]) -> date | None:
    """The working day on or before the one on which a level needs its material; None when it has no date."""
    if level.needed_on is None or is_working_day(level.needed_on):
        return level.needed_on
    return working_day_before(level.needed_on, is_working_day)


def dates_of(
    level: Level, lead_days: int, is_working_day: Callable[[date], bool]
) -> tuple[date | None, date | None]:
    """When a level's delivery arrives, and when it must be ordered at the latest."""
    arrives = order_by = delivery_day(level, is_working_day)
    if arrives is None or order_by is None:
        return None, None
    for _ in range(lead_days):
        order_by = working_day_before(order_by, is_working_day)
    return arrives, order_by
