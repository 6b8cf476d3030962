"""The service's clock: one place to read the time, always UTC, always text that sorts."""

from datetime import UTC, datetime


def now() -> str:
    """The time as ISO 8601 in UTC with microseconds, such as '2027-02-01T08:00:00.000000Z'."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def seconds_since(moment: str) -> float:
    """Seconds from `moment` (as `now` writes it) until now."""
    then = datetime.strptime(moment, "%Y-%m-%dT%H:%M:%S.%fZ").replace(tzinfo=UTC)
    return (datetime.now(UTC) - then).total_seconds()
