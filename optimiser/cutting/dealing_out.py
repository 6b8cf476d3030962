"""Strips dealt out to boards in the order of their stages, board after board, each as full as it can be.

A board takes strips of the earliest stage that is left, with a sum of widths that leaves no more than its part of
what may stay free (subset sums as bits; Bellman, Dynamic Programming, 1957). The last strips of a stage are joined by
as few of the next as fill their board: only these wait.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, combinations, combinations_with_replacement
from random import Random

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip

MOST_CONSIDERED = 80  # strips of a stage for one board; of more, so many are drawn
FEWEST_OF_LATER = 40  # strips of later stages that are looked at, as many stages as hold them
MOST_BEYOND = 30  # mm that a board may be overfull where nothing else fits: the search mends it


def deal_out(demand: Demand, strips: Sequence[OpenStrip], boards: Sequence[OpenBoard], seed: int) -> bool:
    """Puts the strips onto the empty boards, which are of one kind; `seed` draws which strips come first.

    Some boards may end overfull, by as much as others have free. Whether no piece is carried too far.
    """
    source = demand.sources[boards[0].source]
    random = Random(seed)
    stages: dict[int, list[OpenStrip]] = {}
    for strip in strips:
        stages.setdefault(strip.stages(demand)[0], []).append(strip)
    left = [stages[stage] for stage in sorted(stages)]
    for pool in left:
        random.shuffle(pool)
    sizes = [demand.sources[board.source].width + source.kerf for board in boards]
    free = sum(sizes) - sum(strip.width + source.kerf for strip in strips)
    wasted = 0
    for b, (board, size) in enumerate(zip(boards, sizes, strict=True)):
        left = [pool for pool in left if pool]
        if not left:
            break
        may_waste = max(0, free * (b + 1) // len(boards) - wasted)
        board.strips += _filling(demand, left, size, max(0, size - may_waste), source.kerf, random)
        wasted += size - sum(strip.width + source.kerf for strip in board.strips)
    for strip in (strip for pool in left for strip in pool):
        filled = [board for board in boards if board.strips]
        latest = max(filled, key=lambda board: (board.stage(demand), board.free_width(demand)))
        latest.strips.append(strip)
    return not any(_carried_too_far(demand, board) for board in boards)


def _filling(
    demand: Demand, left: list[list[OpenStrip]], size: int, least: int, kerf: int, random: Random
) -> list[OpenStrip]:
    """Strips for one board, taken from those that are left: of the earliest stage, and as few later ones as it needs.

    Together they take from `least` to `size`, or as near to it as can be.
    """
    earliest = left[0]
    if len(earliest) > MOST_CONSIDERED:
        among = sorted(random.sample(range(len(earliest)), MOST_CONSIDERED))
        earliest = [earliest[k] for k in among]
    later = _later(demand, left)
    whole = sum(strip.width + kerf for strip in left[0])
    chosen: list[OpenStrip] | None = None
    if whole <= size:
        added = [] if whole >= least else _fewest(later, size - whole, least - whole, kerf)
        chosen = None if added is None else [*left[0], *added]
    if chosen is None:
        chosen = _with_two_later(earliest, later, size, least, kerf)
    if chosen is None:
        sums = _Sums([*later, *earliest], size + MOST_BEYOND, kerf)  # the earliest are taken first
        chosen = sums.strips(_nearest(sums.reached, size, least))
    taken = {id(strip) for strip in chosen}
    for pool in left:
        if not taken:
            break
        ids = {id(strip) for strip in pool}
        if not taken.isdisjoint(ids):
            pool[:] = [strip for strip in pool if id(strip) not in taken]
            taken -= ids
    return chosen


def _with_two_later(
    earliest: list[OpenStrip], later: list[OpenStrip], size: int, least: int, kerf: int
) -> list[OpenStrip] | None:
    """Of the earliest strips, or else with one or two later ones, those that take from `least` to `size`."""
    sums = _Sums(earliest, size, kerf)
    by_width = {strip.width + kerf: strip for strip in later}
    added: tuple[int, ...]
    for added in chain.from_iterable(combinations(by_width, number) for number in range(3)):
        rest = size - sum(added)
        if rest >= 0:
            total = _nearest(sums.reached, rest, max(0, least - sum(added)))
            if least - sum(added) <= total <= rest:
                return [*(by_width[width] for width in added), *sums.strips(total)]
    return None


def _later(demand: Demand, left: list[list[OpenStrip]]) -> list[OpenStrip]:
    """The strips of the next stages that a board may take that is opened with the earliest, the narrowest first."""
    carry = demand.problem.max_carry_stages
    opened = left[0][0].stages(demand)[0]
    found: list[OpenStrip] = []
    for pool in left[1:]:
        if len(found) >= FEWEST_OF_LATER:
            break
        found += (s for s in pool if carry is None or s.stages(demand)[1] - opened <= carry)
    return sorted(found, key=lambda strip: strip.width)


def _fewest(strips: list[OpenStrip], size: int, least: int, kerf: int) -> list[OpenStrip] | None:
    """One, two or else more strips that take from `least` to `size`."""
    by_width: dict[int, list[OpenStrip]] = {}
    for strip in strips:
        by_width.setdefault(strip.width + kerf, []).append(strip)
    for width in sorted(by_width, reverse=True):
        if least <= width <= size:
            return by_width[width][:1]
    for one, other in combinations_with_replacement(by_width, 2):
        if least <= one + other <= size and (one != other or len(by_width[one]) > 1):
            return [by_width[one][0], by_width[other][-1]]
    sums = _Sums(strips, size, kerf)
    total = _nearest(sums.reached, size, least)
    return sums.strips(total) if least <= total <= size else None


class _Sums:
    """The sums of widths that strips reach, as bits; of each prefix of them."""

    def __init__(self, strips: Sequence[OpenStrip], most: int, kerf: int) -> None:
        self.of = strips
        self.kerf = kerf
        self.prefixes = [1]
        mask = (1 << most + 1) - 1
        for strip in strips:
            before = self.prefixes[-1]
            self.prefixes.append((before | before << strip.width + kerf) & mask)

    @property
    def reached(self) -> int:
        """All of them."""
        return self.prefixes[-1]

    def strips(self, total: int) -> list[OpenStrip]:
        """Strips with that sum, the last ones first."""
        found = []
        for k in range(len(self.of) - 1, -1, -1):
            width = self.of[k].width + self.kerf
            if width <= total and self.prefixes[k] >> total - width & 1:
                found.append(self.of[k])
                total -= width
        return found


def _nearest(reached: int, size: int, least: int) -> int:
    """The least sum from `least` to `size`, so that what stays free is spread over all boards; where there is none,
    the nearest one, rather below than above."""
    within = reached >> least
    if within:
        lowest = least + (within & -within).bit_length() - 1
        if lowest <= size:
            return lowest
    below = (reached & (1 << least) - 1).bit_length() - 1
    above = least + (within & -within).bit_length() - 1
    return above if within and above - size < least - below else below


def _carried_too_far(demand: Demand, board: OpenBoard) -> bool:
    carry = demand.problem.max_carry_stages
    if carry is None or not board.strips:
        return False
    opened = board.stage(demand)
    return any(strip.stages(demand)[1] - opened > carry for strip in board.strips)
