"""What has come together by a day, of changes that each happen on one."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import accumulate


@dataclass(frozen=True)
class RunningSum:
    """`sums[n]` is what has changed by `days[n]`, in order of the days."""

    days: tuple[int, ...]
    sums: tuple[int, ...]

    @classmethod
    def of(cls, changes: Iterable[tuple[int, int]]) -> RunningSum:
        """Of (day, change), in any order.

        >>> RunningSum.of([(7, 10), (3, 5), (7, -2)]).by(7)
        13
        """
        by_day: dict[int, int] = {}
        for day, change in changes:
            by_day[day] = by_day.get(day, 0) + change
        days = tuple(sorted(by_day))
        return cls(days, tuple(accumulate(by_day[day] for day in days)))

    def by(self, day: int) -> int:
        """The sum of the changes until a day, its own included; 0 before the first."""
        place = bisect_right(self.days, day)
        return self.sums[place - 1] if place else 0
