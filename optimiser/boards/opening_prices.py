"""Which boards are worth opening at the prices of strips and of a place on the rack: a knapsack level after level.

A board that is opened at a level is filled with strips of that level and, for the price of a place on the rack a level
that it waits, with strips of later ones. So the most that a width is worth at a level is a bounded knapsack over the
level's strips that starts from what the width would be worth at the next level less the place, or from nought (dynamic
programming over stages; Bellman, Dynamic Programming, 1957, and Gilmore and Gomory, Operations Research 13, 1965).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimiser.cutting.master import Floats

Strips = tuple[tuple[int, int, int], ...]
"""Strips of one board: (level, width in mm with a kerf, how many), levels ascending."""

NOUGHT = 1e-9


@dataclass(frozen=True)
class _Added:
    """One more strip of a width, and at which rooms it is taken; the index is the room before it."""

    width: int
    taken: NDArray[np.bool_]


@dataclass(frozen=True)
class WorthByRoom:
    """What each room is worth at each level.

    `value[level][room]`: the most that strips of that level and later ones are worth in a room of so many mm, a kerf
    included, in the unit of the prices; never falling with the room.
    """

    value: tuple[Floats, ...]
    _added: tuple[tuple[_Added, ...], ...]
    _start: tuple[Floats, ...]

    @classmethod
    def of(
        cls,
        wanted: Sequence[Mapping[int, int]],
        price: Sequence[Mapping[int, float]],
        place: Sequence[float],
        room: int,
    ) -> WorthByRoom:
        """`wanted[level][width]` strips at most, at `price[level][width]` each; `place[level]`: what waiting from that
        level to the next costs; rooms from 0 to `room` mm."""
        start = np.zeros(room + 1)
        values: list[Floats] = []
        added: list[tuple[_Added, ...]] = []
        starts: list[Floats] = []
        for level in reversed(range(len(wanted))):
            value = start.copy()
            steps: list[_Added] = []
            for width in sorted(wanted[level]):
                worth = price[level][width]
                if worth <= NOUGHT or width > room:
                    continue
                for _ in range(min(wanted[level][width], room // width)):
                    with_one = value[:-width] + worth
                    taken = with_one > value[width:] + NOUGHT
                    if not taken.any():
                        break
                    value[width:] = np.where(taken, with_one, value[width:])
                    steps.append(_Added(width, taken))
            values.append(value)
            added.append(tuple(steps))
            starts.append(start)
            if level:
                start = np.maximum(0.0, value - place[level - 1] - NOUGHT)
        return cls(tuple(reversed(values)), tuple(reversed(added)), tuple(reversed(starts)))

    def strips(self, level: int, room: int) -> Strips:
        """The strips that make up the worth of a room at a level."""
        found: list[tuple[int, int, int]] = []
        while True:
            here: Counter[int] = Counter()
            for step in reversed(self._added[level]):
                if room >= step.width and step.taken[room - step.width]:
                    here[step.width] += 1
                    room -= step.width
            found += [(level, width, number) for width, number in sorted(here.items())]
            if self._start[level][room] <= 0:
                return tuple(found)
            level += 1
