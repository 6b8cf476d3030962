"""Other days with which a schedule would keep a limit: a level needed later, or one more crane day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from optimiser.model.project import Level, Project
from optimiser.ordering.delivery_schedule import Limit
from optimiser.ordering.unkept_limits import ScheduleOf, Unkept
from optimiser.ordering.working_days import WorkingDays

_LATER = (1, 2, 3, 4, 5, 6, 7, 14, 21, 28)  # days by which levels are tried later
_MOST_TRIES = 60  # further crane days
_MOST_MOVES = 3  # levels that are moved before a later day is given up


def later_days(unkept: Unkept, schedule_of: ScheduleOf, seed: int) -> Iterator[str]:
    """Levels that are needed later, each with all that follow it, so that storage is kept: as few days as tried."""
    project, kept = unkept.project, unkept.kept()
    levels = sorted(
        (level for level in project.levels if level.needed_on is not None),
        key=lambda level: (level.needed_on or date.min, level.sequence),
    )
    here = {name for day in unkept.too_much_on_site() for name in unkept.levels_on(day)}
    candidates = [place for place, level in enumerate(levels) if place and level.level in here]

    def above(delays: dict[int, int]) -> int:
        return schedule_of(_moved(project, levels, delays)).least_above_storage()

    if above(dict.fromkeys(range(1, len(levels)), _LATER[-1])):
        return  # however far apart the levels are, one of them needs more
    delays: dict[int, int] = {}
    for _ in range(_MOST_MOVES):
        left, days, place = min(
            ((above(delays | {place: days}), days, place) for days in _LATER for place in candidates),
            default=(1, 0, 0),
        )
        delays[place] = days
        if left == 0 or not days:
            break
    if left or not schedule_of(_moved(project, levels, delays)).keeps(kept | {"storage"}, seed):
        return
    named = [
        f"{levels[place].level} needed on {_moved_day(levels, delays, place)} instead of {levels[place].needed_on}"
        for place in sorted(delays)
    ]
    after = " (and every later level as many days later)" if min(delays) < len(levels) - 1 else ""
    yield f"with {', '.join(named)}{after}"


def _moved_day(levels: Sequence[Level], delays: dict[int, int], place: int) -> date:
    needed = levels[place].needed_on or date.min
    return needed + timedelta(days=sum(days for start, days in delays.items() if start <= place))


def _moved(project: Project, levels: Sequence[Level], delays: dict[int, int]) -> Project:
    """The project with levels, from each place on, so many days later."""
    days = {level.level: _moved_day(levels, delays, place) for place, level in enumerate(levels)}
    return project.model_copy(
        update={
            "levels": tuple(
                level.model_copy(update={"needed_on": days[level.level]}) if level.level in days else level
                for level in project.levels
            )
        }
    )


def another_day(
    limit: Limit, unkept: Unkept, schedule_of: ScheduleOf, calendar: WorkingDays, seed: int
) -> Iterator[str]:
    """One more crane day with which a limit is kept: the last working day for a level."""
    project, limits = unkept.project, unkept.limits
    if not limits.crane_days:
        return
    needed = {level.needed_on for level in project.levels if level.needed_on is not None}
    days = sorted({calendar.on_or_before(day) for day in needed} - set(limits.crane_days))
    for day in days[:_MOST_TRIES]:
        more = limits.model_copy(update={"crane_days": tuple(sorted((*limits.crane_days, day)))})
        changed = project.model_copy(update={"deliveries": (more,)})
        if schedule_of(changed).keeps(unkept.kept() | {limit}, seed):
            yield f"with a crane day on {day} as well"
            return
