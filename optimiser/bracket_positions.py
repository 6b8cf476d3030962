"""Where brackets stand along a piece.

Common practice, no source: one at the end distance from each end (two on a 1200 mm length: 300 and 900), further
ones evenly between, no farther apart than the spacing allows; a piece too short for two has one in its middle.
Each keeps clear of mullion notches. All numbers are the detail's, in whole millimetres from the piece's start.
"""

from __future__ import annotations

from collections import deque
from functools import lru_cache

from optimiser.project import Detail


def bracket_positions(length_mm: int, mullions_mm: tuple[int, ...], detail: Detail) -> tuple[int, ...] | None:
    """Ascending positions, or None when no arrangement keeps clear of the mullions.

    `mullions_mm` are measured from the piece's start; those just beyond its ends (negative, or more than
    `length_mm`) count too. Positions are moved by the least total movement that keeps every bracket inside
    the piece, clear, and no farther from the next than the spacing. The free ends beyond the outermost
    brackets may grow by twice the clearance, a notch's width (our rule: else both brackets of a crowded piece
    would move to one side of it); where that is impossible there is one bracket more, and only then may the
    free ends grow to the spacing.
    """
    clearance = detail.bracket_to_mullion_min_mm
    near = tuple(sorted({m for m in mullions_mm if -clearance < m < length_mm + clearance}))
    return _positions(
        length_mm, near, clearance, detail.bracket_end_distance_mm, detail.bracket_spacing_max_mm
    )


@lru_cache(maxsize=65536)
def _positions(
    length: int, mullions: tuple[int, ...], clearance: int, end_distance: int, spacing: int
) -> tuple[int, ...] | None:
    if length <= 2 * end_distance:
        arrangements: list[tuple[int, ...]] = [(length // 2,)]
    else:
        between = length - 2 * end_distance
        fewest = -(-between // spacing)
        arrangements = [
            tuple(end_distance + between * i // intervals for i in range(intervals + 1))
            for intervals in (fewest, fewest + 1)
        ]
    for longest_end in (end_distance + 2 * clearance, max(spacing, end_distance + 2 * clearance)):
        for even in arrangements:
            moved = _moved_clear(even, length, mullions, clearance, spacing, longest_end)
            if moved is not None:
                return moved
    return None


def _moved_clear(
    wanted: tuple[int, ...],
    length: int,
    mullions: tuple[int, ...],
    clearance: int,
    spacing: int,
    longest_end: int,
) -> tuple[int, ...] | None:
    """`wanted`, moved clear of the mullions by the least total movement; None when that is impossible.

    Brackets within `limit` of where they were wanted are searched first: a total movement no more than `limit`
    cannot be beaten from beyond it. Ties: the lower positions, from the last bracket to the first.
    """
    if all(abs(position - mullion) >= clearance for position in wanted for mullion in mullions):
        return wanted
    limit, farthest = max(1, clearance), length * len(wanted)
    while True:
        found = _least_movement(wanted, limit, length, mullions, clearance, spacing, longest_end)
        if found is not None and found[0] <= limit:
            return found[1]
        if limit >= farthest:
            return None
        limit = min(farthest, found[0] if found is not None else 4 * limit)


def _least_movement(
    wanted: tuple[int, ...],
    limit: int,
    length: int,
    mullions: tuple[int, ...],
    clearance: int,
    spacing: int,
    longest_end: int,
) -> tuple[int, tuple[int, ...]] | None:
    """The least total movement and its positions, every bracket within `limit` of its wanted place.

    A shortest path over whole millimetres; the window of `spacing` before a position slides with it.
    """
    low, high = (1, length - 1) if length > 1 else (0, length)  # inside the piece
    taken: list[dict[int, tuple[int, int]]] = []  # per bracket: position -> (movement so far, the one before)
    for i, aim in enumerate(wanted):
        here: dict[int, tuple[int, int]] = {}
        before = list(taken[-1].items()) if taken else []
        window: deque[tuple[int, int]] = deque()  # (movement, position), least movement first
        entering = 0
        for position in range(max(low, aim - limit), min(high, aim + limit) + 1):
            if any(abs(position - mullion) < clearance for mullion in mullions):
                continue
            if i == len(wanted) - 1 and length - position > longest_end:
                continue
            if i == 0:
                if position > longest_end:
                    break
                here[position] = (abs(position - aim), -1)
                continue
            while entering < len(before) and before[entering][0] < position:
                movement = before[entering][1][0]
                while window and window[-1][0] > movement:
                    window.pop()
                window.append((movement, before[entering][0]))
                entering += 1
            while window and window[0][1] < position - spacing:
                window.popleft()
            if window:
                here[position] = (window[0][0] + abs(position - aim), window[0][1])
        taken.append(here)
    if not taken[-1]:
        return None
    last = min(taken[-1], key=lambda position: (taken[-1][position][0], position))
    chain = [last]
    for here in reversed(taken[1:]):
        chain.append(here[chain[-1]][1])
    return taken[-1][last][0], tuple(reversed(chain))
