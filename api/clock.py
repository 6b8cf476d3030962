"""The service's clock: one place to read the time, always UTC, always text that sorts."""

import time
from datetime import UTC, date, datetime, timedelta

_FORM = "%Y-%m-%dT%H:%M:%S.%fZ"


def now() -> str:
    """The time as ISO 8601 in UTC with microseconds, such as '2027-02-01T08:00:00.000000Z'."""
    return datetime.now(UTC).strftime(_FORM)


def today() -> date:
    """The day it is, UTC."""
    return datetime.now(UTC).date()


def in_seconds(seconds: float) -> str:
    """The time so many seconds from now, as `now` writes it; a negative number is before now."""
    return (datetime.now(UTC) + timedelta(seconds=seconds)).strftime(_FORM)


def moment_of(text: str) -> str:
    """A day or a moment of ISO 8601 as `now` writes it; without a zone it is UTC. Raises ValueError."""
    found = datetime.fromisoformat(text)
    return (found if found.tzinfo else found.replace(tzinfo=UTC)).astimezone(UTC).strftime(_FORM)


def seconds_since(moment: str) -> float:
    """Seconds from `moment` (as `now` writes it) until now."""
    then = datetime.strptime(moment, _FORM).replace(tzinfo=UTC)
    return (datetime.now(UTC) - then).total_seconds()


def seconds() -> float:
    """What the clock says in seconds since 1970."""
    return datetime.now(UTC).timestamp()


def _seconds() -> tuple[float, float]:
    """What the clock says, and the seconds since the machine started, which nobody sets (clock_gettime(2))."""
    return seconds(), time.clock_gettime(time.CLOCK_BOOTTIME)


_at_start = _seconds()


def moved_by() -> float:
    """By how many seconds the clock was set forward since this process started; back: below 0."""
    clock, passed = _seconds()
    return (clock - _at_start[0]) - (passed - _at_start[1])
