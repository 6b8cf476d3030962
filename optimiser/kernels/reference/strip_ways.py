"""All ways to deal strips out to two boards (`rearranging.c`): told plainly, and all at once for speed.

Both give the same ways in the same order, which is part of what the kernel promises: by which of the earlier half of
the strips lie on the first board, read as bits; of equals by the later half's width there, its pieces, its bits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimiser.kernels.reference.arrangement import NEVER, Arrangement, Contents, Strip

MOST_FREE = 12  # strips dealt out at once; the others stay on their boards
# a set of strips of one half in a word, so that words are in the order of sets: its width, its pieces, which
WIDTH, PIECES = 30, 6  # where in the word they begin
_WHICH = (1 << PIECES) - 1
_Numbers = NDArray[np.int64]


class StripDeal(NamedTuple):
    """Strips that boards `a` and `b` share out between them: in the order of their first stages, at most `MOST_FREE`.

    `fixed` is what stays on either board. On `a` the strips' widths with kerf come to at least `least` and at most
    `greatest`. `dearest`: what both boards may cost.
    """

    a: int
    b: int
    strips: Sequence[Strip]
    fixed: tuple[Contents, Contents]
    kerf: int
    least: int
    greatest: int
    dearest: int

    def chosen(self, bits: int) -> list[Strip]:
        """The strips that these bits stand for."""
        return [strip for k, strip in enumerate(self.strips) if bits >> k & 1]


class Ways(NamedTuple):
    """The ways that are offered, each as the bits of what lies on the first of two, and what each costs."""

    ways: _Numbers
    costs: _Numbers

    @classmethod
    def of(cls, found: Sequence[tuple[int, int]]) -> Ways:
        """From each way and its cost."""
        return cls(*np.array(found, dtype=np.int64).reshape(-1, 2).T)


# told plainly


def ways_one_by_one(arrangement: Arrangement, deal: StripDeal) -> Ways:
    """The ways that fit and cost no more than `dearest`: each is tried."""
    costs = ((way, _cost(arrangement, deal, way)) for way in _in_order(deal))
    return Ways.of([(way, cost) for way, cost in costs if cost is not None and cost <= deal.dearest])


def _in_order(deal: StripDeal) -> Iterator[int]:
    """The ways of such widths that the boards can hold them."""
    half = len(deal.strips) // 2
    earlier = range(1 << half)
    later = [y << half for y in range(1 << len(deal.strips) - half)]
    later.sort(key=lambda way: (_width(deal, way), sum(strip.pieces for strip in deal.chosen(way))))
    for way in (x | y for x in earlier for y in later):
        if deal.least <= _width(deal, way) <= deal.greatest:
            yield way


def _width(deal: StripDeal, way: int) -> int:
    return sum(strip.width + deal.kerf for strip in deal.chosen(way))


def _cost(arrangement: Arrangement, deal: StripDeal, way: int) -> int | None:
    """What both boards cost, None where one may not hold what is dealt to it."""
    cost = 0
    for board, contents, bits in ((deal.a, deal.fixed[0], way), (deal.b, deal.fixed[1], ~way)):
        for strip in deal.chosen(bits):
            if not arrangement.may_hold(board, strip):
                return None
            contents = contents.with_(strip, deal.kerf)
        if arrangement.carried_too_far(board, contents):
            return None
        cost += arrangement.board_cost(board, contents)
    return cost


# all at once


def ways_at_once(arrangement: Arrangement, deal: StripDeal) -> Ways:
    """As `ways_one_by_one`, by arrays over all ways."""
    a, b, strips, fixed, kerf, least, greatest, dearest = deal
    count, half = len(strips), len(strips) // 2
    words = np.array([strip.width + kerf << WIDTH | strip.pieces << PIECES for strip in strips])
    earlier, later = _subsets(half) @ words[:half], _subsets(count - half) @ words[half:]
    later += np.arange(len(later))
    later.sort()
    to_a = (earlier[:, None] + later).ravel()
    fits = np.flatnonzero((to_a >= least << WIDTH) & (to_a < greatest + 1 << WIDTH))
    to_a = to_a[fits]
    on_a = fits >> count - half | (to_a & _WHICH) << half
    only_a, only_b = (_kept_off(arrangement, board, strips) for board in (b, a))
    if only_a or only_b:
        may = on_a & only_b | ~on_a & only_a == 0
        to_a, on_a = to_a[may], on_a[may]
    to_a &= ~_WHICH
    to_b, on_b = int(words.sum()) - to_a, on_a ^ (1 << count) - 1
    stages = np.array([arrangement.numbers[strip.first] for strip in strips] + [0])
    cost = _costs(arrangement, a, fixed[0], stages, to_a, on_a)
    cost += _costs(arrangement, b, fixed[1], stages, to_b, on_b)
    offered = cost <= dearest
    for board, rest, bits in ((a, fixed[0], on_a), (b, fixed[1], on_b)):
        if arrangement.boards[board].carry < NEVER:
            offered &= _carried(arrangement, board, rest, strips, bits)
    return Ways(on_a[offered], cost[offered])


def _kept_off(arrangement: Arrangement, b: int, strips: Sequence[Strip]) -> int:
    """The strips that a board may not hold, as bits."""
    return sum(1 << k for k, strip in enumerate(strips) if not arrangement.may_hold(b, strip))


def _costs(
    arrangement: Arrangement, b: int, fixed: Contents, stages: _Numbers, words: _Numbers, bits: _Numbers
) -> _Numbers:
    """`Arrangement.board_cost` of what is fixed and every set of strips. `stages`: their first ones, ascending, and 0
    for none."""
    board, weights, numbers = arrangement.boards[b], arrangement.weights, arrangement.numbers
    # a set's first strip opens the board, its last is the latest
    opened = latest = stages
    if fixed.opened < NEVER:
        opened = np.minimum(stages, numbers[fixed.opened])
        latest = np.maximum(stages, numbers[fixed.latest_first])
        opened[-1], latest[-1] = numbers[fixed.opened], numbers[fixed.latest_first]
    pieces = (words >> PIECES & (1 << WIDTH - PIECES) - 1) + fixed.pieces
    cost = board.price - (weights.piece * pieces + weights.remainder) * opened.take(_LOWEST.take(bits))
    if weights.remainder:
        cost += weights.remainder * latest.take(_HIGHEST.take(bits))
    if weights.overflow:
        cost += weights.overflow * np.maximum((words >> WIDTH) + (fixed.used - board.capacity), 0)
    if fixed.opened == NEVER:
        cost[bits == 0] = 0
    return cost


def _carried(
    arrangement: Arrangement, b: int, fixed: Contents, strips: Sequence[Strip], bits: _Numbers
) -> NDArray[np.bool_]:
    """Not `Arrangement.carried_too_far`, of what is fixed and every set of strips."""
    opened, last = np.array([fixed.opened]), np.array([fixed.last])
    for strip in strips:
        opened = np.concatenate((opened, np.minimum(opened, strip.first)))
        last = np.concatenate((last, np.maximum(last, strip.last)))
    stage = np.array([*arrangement.numbers, 0])  # of nothing, the last one
    opened[opened == NEVER] = last[last < 0] = len(stage) - 1
    carried: _Numbers = stage[last] - stage[opened]
    return carried[bits] <= arrangement.boards[b].carry


@cache
def _subsets(count: int) -> _Numbers:
    """A row for each set of so many things, by its bits: which belong to it."""
    return np.arange(1 << count)[:, None] >> np.arange(count) & 1


# the first and the last of a set, by its bits; of an empty set, -1
_LOWEST = np.array([(bits & -bits).bit_length() - 1 for bits in range(1 << MOST_FREE)])
_HIGHEST = np.array([bits.bit_length() - 1 for bits in range(1 << MOST_FREE)])
