"""Every way to fill a board with strips so that little of its width is left: for boards that must be nearly full.

Where strips can take no more than they must of all boards of a size, no board of it may leave more of its width than
there is to spare in all. So few ways to fill one are left that each may be a variable of an integer program.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

MOST_WAYS = 60_000  # beyond which boards are not filled one by one


def ways_to_fill(sizes: Sequence[int], room: int, spare: int) -> list[tuple[int, ...]] | None:
    """Every choice of sizes, by their indices ascending and each as often as wanted, that takes at most `room` and
    leaves at most `spare` of it; None where there are too many. `sizes` ascend, in mm with their kerf, as `room` is.

    >>> ways_to_fill([200, 300], 1000, 0)
    [(0, 0, 0, 0, 0), (0, 0, 1, 1)]
    >>> ways_to_fill([200, 300], 700, 100)
    [(0, 0, 0), (0, 0, 1), (1, 1)]
    """
    found = list(islice(_ways(sizes, room, spare), MOST_WAYS + 1))
    return found if len(found) <= MOST_WAYS else None


def _ways(sizes: Sequence[int], room: int, spare: int) -> Iterator[tuple[int, ...]]:
    held: list[int] = []

    def filled(first: int, left: int) -> Iterator[tuple[int, ...]]:
        if left <= spare:
            yield tuple(held)
        for k in range(first, len(sizes)):
            if sizes[k] > left:
                break
            held.append(k)
            yield from filled(k, left - sizes[k])
            held.pop()

    return filled(0, room)
