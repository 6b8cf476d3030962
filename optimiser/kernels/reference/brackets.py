"""The bracket rule: where brackets stand along a piece, which size it takes, and the count of a whole building.

Common practice, no source: a bracket at the end distance from each end (two on a 1200 mm length: 300 and 900),
further ones evenly between, no farther apart than the spacing allows; a piece too short for two has one in its
middle. Each keeps clear of mullion notches. Its reach is a share of the gap, the insertion. All numbers are the
detail's; the tested detail, local code and a licensed practitioner decide. The takeoff calls the rule from here, and
`draws.c` counts by it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from optimiser.kernels.reference.gap_line import GapLine

NO_SIZE, NO_STAND = -1, -2  # in place of a size: none fits the gap; none can stand clear of the mullions


class Standing(NamedTuple):
    """Where brackets may stand, in mm: the clearance from a mullion, the distance from a piece's end, and the
    greatest spacing."""

    clearance: int
    end_distance: int
    spacing: int


class Insertion(NamedTuple):
    """Reach over gap: the allowed band and the target."""

    low: Fraction
    high: Fraction
    target: Fraction


@lru_cache(maxsize=65536)
def bracket_positions(length: int, mullions: tuple[int, ...], standing: Standing) -> tuple[int, ...] | None:
    """Ascending positions from the piece's start, or None when no arrangement keeps clear of the mullions.

    `mullions` are measured from the piece's start; those just beyond its ends (negative, or more than `length`)
    count too. Positions are moved by the least total movement that keeps every bracket inside the piece, clear,
    and no farther from the next than the spacing. The free ends beyond the outermost brackets may grow by twice
    the clearance, a notch's width (our rule: else both brackets of a crowded piece would move to one side of it);
    where that is impossible there is one bracket more, and only then may the free ends grow to the spacing.
    """
    clearance, end_distance, spacing = standing
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


def sizes_that_fit(
    at_brackets: tuple[Fraction, Fraction],
    over_piece: tuple[Fraction, Fraction],
    reaches: Sequence[int],
    insertion: Insertion,
) -> list[int]:
    """The indices of the sizes whose insertion is within the band at all brackets of a piece, the nearest first.

    `at_brackets` are the least and the greatest gap at its brackets, `over_piece` those over its whole span, in
    mm; `reaches` the sizes on offer. First the sizes whose insertion stays within the band over the whole piece, then
    by the greatest deviation from the target, then the shorter reach (of 112.5 mm in a gap of 150 mm, 110 mm), then
    the first on offer.
    """

    def within(reach: int, gaps: tuple[Fraction, Fraction]) -> bool:
        return insertion.low * gaps[1] <= reach <= insertion.high * gaps[0]

    ranked = [
        (
            not within(reach, over_piece),
            max(abs(reach / gap - insertion.target) for gap in at_brackets),
            reach,
            place,
        )
        for place, reach in enumerate(reaches)
        if within(reach, at_brackets)
    ]
    return [place for *_, place in sorted(ranked)]


def bracket_size(
    at_brackets: tuple[Fraction, Fraction],
    over_piece: tuple[Fraction, Fraction],
    reaches: Sequence[int],
    insertion: Insertion,
) -> int | None:
    """The index of a piece's bracket size, the nearest to the target of those that fit (`sizes_that_fit`, which says
    what is given), or None when none does."""
    fitting = sizes_that_fit(at_brackets, over_piece, reaches, insertion)
    return fitting[0] if fitting else None


def joint_tape(gap: Fraction, lap: int, faces: int) -> int:
    """Tape over a butt joint, in mm: the gap there, rounded up, and a lap at each end, on each face."""
    return (-(-gap.numerator // gap.denominator) + 2 * lap) * faces


class Piece(NamedTuple):
    """A laid piece: the index of its run, and where it begins and ends along it, in mm."""

    run: int
    from_mm: int
    to_mm: int


class Accessories(NamedTuple):
    """Of each piece the index of its bracket size (or NO_SIZE, NO_STAND) and how many; joints and tape in all."""

    size: list[int]
    brackets: list[int]
    joints: int
    tape_mm: int


def count_accessories(
    pieces: Sequence[Piece],
    gaps: Sequence[GapLine],
    mullions: Sequence[Sequence[int]],
    standing: Standing,
    insertion: Insertion,
    tape_lap: int,
    tape_faces: int,
    reaches: Sequence[int],
) -> Accessories:
    """Brackets, joints and tape of a building's pieces, in order of run and position.

    `gaps` and `mullions` (ascending) are those of each run. A joint is where a piece begins at the end of the one
    before in the same run.
    """
    size: list[int] = []
    brackets: list[int] = []
    joints = [piece for before, piece in pairwise(pieces) if before[::2] == (piece.run, piece.from_mm)]
    for run, from_mm, to_mm in pieces:
        along = mullions[run]
        first = bisect_right(along, from_mm - standing.clearance)
        last = bisect_left(along, to_mm + standing.clearance)
        near = tuple(mullion - from_mm for mullion in along[first:last])
        positions = bracket_positions(to_mm - from_mm, near, standing)
        found = None
        if positions is not None:
            at_brackets = [gaps[run].at(from_mm + position) for position in positions]
            found = bracket_size(
                (min(at_brackets), max(at_brackets)), gaps[run].extremes(from_mm, to_mm), reaches, insertion
            )
        size.append(NO_STAND if positions is None else NO_SIZE if found is None else found)
        brackets.append(0 if positions is None or found is None else len(positions))
    tape = sum(joint_tape(gaps[piece.run].at(piece.from_mm), tape_lap, tape_faces) for piece in joints)
    return Accessories(size, brackets, len(joints), tape)
