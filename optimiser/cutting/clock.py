"""How long a search may take: a limit that is shared out among its parts, and an end that changes nothing before it.

A limit is a budget: more of it is used for more steps. What `stopping_after` sets is only an end: until it is reached
everything is searched as without one, so equal input and seed give an equal plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from time import perf_counter


@dataclass
class Stop:
    """When every search ends (None: when it is done), and whether one was `met` by that or by its own limit."""

    ends_at: float | None = None
    met: bool = False


_STOP: ContextVar[Stop | None] = ContextVar("stop", default=None)


@contextmanager
def stopping_after(seconds: float | None) -> Iterator[Stop]:
    """Every search inside ends after so many seconds, as it stands; None: no end but that of a `stopping_after` around
    it. The `Stop` tells whether one was cut short."""
    outer = _STOP.get()
    ends = [] if seconds is None else [perf_counter() + seconds]
    if outer is not None and outer.ends_at is not None:
        ends.append(outer.ends_at)
    stop = Stop(min(ends, default=None))
    token = _STOP.set(stop)
    try:
        yield stop
    finally:
        _STOP.reset(token)
        if outer is not None:
            outer.met = outer.met or stop.met


def stopped() -> bool:
    """Whether the end that `stopping_after` set is reached."""
    stop = _STOP.get()
    if stop is None or stop.ends_at is None or perf_counter() < stop.ends_at:
        return False
    stop.met = True
    return True


class Clock:
    """Time since the start and whether the limit is reached, less what the last step will still take.

    `hurried`: the last step alone takes more than half of the limit, so nothing that can be left out belongs to it.
    """

    def __init__(self, limit: float | None, reserve: float = 0.0) -> None:
        self.started = perf_counter()
        self.limit = None if limit is None else max(0.0, limit - min(reserve, 0.5 * limit))
        self.hurried = limit is not None and limit < 2 * reserve

    @property
    def seconds(self) -> float:
        """Seconds since the start."""
        return perf_counter() - self.started

    @property
    def left(self) -> Callable[[], float] | None:
        """Seconds until the limit, as a function; None without a limit."""
        limit = self.limit
        return None if limit is None else lambda: limit - self.seconds

    def of_what_is_left(self, share: float = 1.0) -> Clock:
        """A clock that starts now, with a share of what is left of the limit as its own."""
        return Clock(None if self.left is None else share * self.left())

    def part(self, share: float) -> Callable[[], bool]:
        """Whether such a share of what is left of the limit now is used, or all searches end."""
        until = None if self.left is None else self.seconds + share * self.left()
        return lambda: self.out() or (until is not None and self.seconds >= until)

    def used(self, share: float) -> bool:
        """Whether such a share of the limit is used, so that rounding should begin, or all searches end."""
        return stopped() or (self.limit is not None and self.seconds >= share * self.limit)

    def out(self) -> bool:
        """Whether the time limit is reached, or all searches end."""
        if self.limit is not None and self.seconds >= self.limit:
            stop = _STOP.get()
            if stop is not None:
                stop.met = True
            return True
        return stopped()
