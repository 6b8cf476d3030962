"""Which levels are firm and which a forecast, and by when a forecast level must be measured to keep its delivery."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.errors.listed import listed
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import LevelStatus
from optimiser.model.project import Level, Project
from optimiser.ordering.working_days import WorkingDays

_MANY = 8  # levels spelt out in the warning before 'and n more'


def level_statuses(project: Project, order: Order, calendar: WorkingDays) -> tuple[LevelStatus, ...]:
    """Every level in delivery order, with the day by which it must be measured.

    That day is the earliest of the order days of what is ordered for the level and of the boards of its runs: its
    delivery counted back over working days by the longest lead time. The boards count also where none is ordered for
    it now, since they are on site or on order: what is measured may take more of them. A level without a date has no
    day, one without a run and a line that of its delivery.
    """
    forecast = forecast_levels(project)
    lines: dict[str, list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        lines[line.level].append(line)
    boards = project.building.boards
    lead: dict[str, int] = defaultdict(int)
    for run in project.runs:
        lead[run.level] = max(
            lead[run.level], *(boards[code].lead_days for code in run.board if code in boards), 0
        )
    return tuple(
        _status(level, level.level in forecast, lines[level.level], lead[level.level], calendar)
        for level in project.levels_in_order()
    )


def _status(
    level: Level, is_forecast: bool, lines: list[OrderLine], lead_days: int, calendar: WorkingDays
) -> LevelStatus:
    needed_on = None if level.needed_on is None else calendar.on_or_before(level.needed_on)
    deliver_on = min((line.deliver_on for line in lines if line.deliver_on is not None), default=needed_on)
    days = [line.order_by for line in lines if line.order_by is not None]
    if deliver_on is not None:
        days.append(calendar.before(deliver_on, lead_days))
    return LevelStatus(
        level=level.level,
        sequence=level.sequence,
        status="forecast" if is_forecast else "firm",
        deliver_on=deliver_on,
        measure_by=min(days, default=None) if is_forecast else None,
    )


def readings_too_old(project: Project, levels: Iterable[LevelStatus]) -> Iterator[str]:
    """A warning where a level that is measured on its last day for that has readings older than its details allow when
    it is needed: its delivery is long before that."""
    allowed: dict[str, int] = {}
    for name, gaps in project.building.gaps.items():
        if any(gap.basis == "nominal" for gap in gaps):
            level = project.building.runs[name].level
            most = project.building.detail_of(name).reading_age_max_days
            allowed[level] = min(most, allowed.get(level, most))
    old = []
    for status in levels:
        needed_on = project.building.levels[status.level].needed_on
        if status.measure_by is not None and needed_on is not None and status.level in allowed:
            age = (needed_on - status.measure_by).days
            if age > allowed[status.level]:
                old.append(f"{status.level} ({age} days)")
    if old:
        yield (
            "Measured on the last day that keeps its delivery, a level's readings are older than its detail allows"
            f" (reading_age_max_days) when it is needed: {listed(old, _MANY)}. Measure again before"
            " cutting, or let the delivery come later."
        )


def with_measuring_days(order: Order, levels: tuple[LevelStatus, ...]) -> Order:
    """The order, its forecast lines with the day by which their level must be measured."""
    days: dict[str, date | None] = {level.level: level.measure_by for level in levels}
    return order.model_copy(
        update={
            "lines": tuple(
                line.model_copy(update={"measure_by": days.get(line.level)})
                if line.status == "forecast"
                else line
                for line in order.lines
            )
        }
    )
