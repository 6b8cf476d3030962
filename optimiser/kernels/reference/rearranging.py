"""Less waiting on the same boards (`rearranging.c`): strips change boards and pieces strips, by simulated annealing.

What is moved is a *component*: what lies in one length of a strip, one piece or a tapered pair. A board is opened with
the earliest of its components; a piece waits from then until its own stage. A step takes two boards and deals their
strips out anew, or two strips and deals their components out anew: of all ways that fit, one is drawn with probability
in proportion to exp(-cost / temperature) (heat bath; Geman and Geman, IEEE Trans. Pattern Anal. 6, 1984).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import accumulate
from math import exp
from typing import NamedTuple

import numpy as np

from optimiser.kernels.reference.arrangement import Arrangement, BoardLimits, Component, CostWeights
from optimiser.kernels.reference.component_ways import MOST_SPLIT, ComponentDeal, component_ways
from optimiser.kernels.reference.strip_ways import MOST_FREE, StripDeal, Ways, ways_at_once

MOST_POOL = 256  # strips of two boards together, beyond which they stay as they are
MOST_EXPONENT = 8  # what is rarer than exp(-8) is not drawn
MOST_OVERFLOW = 60  # mm that a board may be filled beyond its width on the way
FEW_OVERFULL = 64  # boards that are overfull are few where they are no more than one in so many
_WORD = (1 << 64) - 1


class Found(NamedTuple):
    """The arrangement after the last step, the best one seen (None: none better than was known) with its cost, and
    the state of the random numbers."""

    strip_of: list[int]
    board_of: list[int]
    best: tuple[list[int], list[int]] | None
    best_cost: int
    random: int


def rearrange(
    components: Sequence[Component],
    sharing: Sequence[int],
    partners: Sequence[Sequence[int]],
    boards: Sequence[BoardLimits],
    numbers: Sequence[int],
    weights: CostWeights,
    stages_of_all_pieces: int,
    share: int,
    moves: int,
    temperature: float,
    cooling: float,
    strip_of: Sequence[int],
    board_of: Sequence[int],
    best_cost: int,
    random: int,
    strip_ways: Callable[[Arrangement, StripDeal], Ways] = ways_at_once,
) -> Found:
    """Makes `moves` steps from the strip of each component and the board of each strip, the temperature falling by the
    factor `cooling` after each.

    Of the steps, `share` hundredths deal out components: one of those `sharing`, with one of its `partners`. Kept is
    the best arrangement seen in which no board is overfull, where it costs less than `best_cost`. `random` is the
    generator's state (xorshift64*; Vigna, ACM Trans. Math. Software 42, 2016). `strip_ways` gives the ways to deal
    strips out, all at once or one by one: the same ways.
    """
    now = Arrangement(components, boards, numbers, weights, strip_of, board_of)
    search = _Search(now, sharing, partners, _Draws(random), strip_ways)
    cost = (weights.piece + weights.inner) * stages_of_all_pieces + now.whole_cost()
    best: tuple[list[int], list[int]] | None = None
    for move in range(moves + 1):
        if move:
            if sharing and search.draws.below(100) < share:
                cost += search.step_with_components(temperature)
            else:
                cost += search.step_with_strips(temperature)
            temperature *= cooling
        if cost < best_cost and not now.overfull:
            best_cost, best = cost, (now.strip_of.copy(), now.board_of.copy())
    return Found(now.strip_of, now.board_of, best, best_cost, search.draws.state)


class _Draws:
    """Random numbers, each by the generator's next state."""

    def __init__(self, state: int) -> None:
        self.state = state

    def word(self) -> int:
        """One of all words of 64 bits."""
        x = self.state
        x ^= x >> 12
        x ^= x << 25 & _WORD
        self.state = x = x ^ x >> 27
        return x * 2685821657736338717 & _WORD

    def below(self, count: int) -> int:
        """A whole number from 0 to count - 1."""
        return (self.word() >> 33) % count

    def unit(self) -> float:
        """A number from 0 up to 1."""
        return (self.word() >> 11) / 9007199254740992.0


class _Search:
    """An arrangement that is changed step by step."""

    def __init__(
        self,
        now: Arrangement,
        sharing: Sequence[int],
        partners: Sequence[Sequence[int]],
        draws: _Draws,
        strip_ways: Callable[[Arrangement, StripDeal], Ways],
    ) -> None:
        self.now, self.sharing, self.partners = now, sharing, partners
        self.draws, self.strip_ways = draws, strip_ways

    def step_with_strips(self, temperature: float) -> int:
        """Two boards, the second opened near the first stage of a strip of the first. The change of the cost."""
        now, below = self.now, self.draws.below
        count, lying = len(now.boards), now.lying
        a = below(count)
        # the last few that are overfull are taken more often, boards on which nothing waits less often
        few = 0 < len(now.overfull) * FEW_OVERFULL <= count
        if few and below(4) == 0:
            a = now.overfull[below(len(now.overfull))]
        elif not lying[a] or (now.contents[a].latest_first == now.contents[a].opened and below(4)):
            a = below(count)
        if not lying[a]:
            return 0
        k = lying[a][below(len(lying[a]))]
        b = self._board_near(now.strips[k].first)
        return 0 if b is None or a == b else self._deal_strips(a, b, temperature)

    def step_with_components(self, temperature: float) -> int:
        """Two strips that may share, or one and a new one. The change of the cost."""
        now, draws = self.now, self.draws
        c = self.sharing[draws.below(len(self.sharing))]
        one, partners = now.strip_of[c], self.partners[c]
        if not partners or draws.below(4) == 0:
            b = 0 if len(now.boards) == 1 else self._board_near(now.components[c].first)
            if b is None or not now.free_strips:
                return 0
            return self._deal_components(one, None, b, temperature)
        # partners stand in the order of their distance in stages: near ones more often
        part = draws.unit()
        other = now.strip_of[partners[int(part * part * len(partners))]]
        return 0 if other == one else self._deal_components(one, other, now.board_of[other], temperature)

    def _board_near(self, rank: int) -> int | None:
        """A board opened within a stage of `rank`, or now and then one that is not opened yet."""
        opened_at, below = self.now.opened_at, self.draws.below
        ranks = len(self.now.numbers)
        wanted = rank + below(3) - 1
        if opened_at[ranks] and below(8) == 0:
            wanted = ranks
        if not 0 <= wanted <= ranks or not opened_at[wanted]:
            return None
        return opened_at[wanted][below(len(opened_at[wanted]))]

    def _deal_strips(self, a: int, b: int, temperature: float) -> int:
        """Deals strips of boards a and b out anew, the others stay. The change of the cost."""
        now = self.now
        board_a, board_b, kerf = now.boards[a], now.boards[b], now.boards[a].kerf
        pool = now.lying[a] + now.lying[b]
        if kerf != board_b.kerf or len(pool) > MOST_POOL:
            return 0
        self._shuffle(pool)
        freed = sorted(pool[:MOST_FREE], key=lambda k: now.strips[k].first)
        strips = [now.strips[k] for k in freed]
        fixed = now.on_board(a, freed), now.on_board(b, freed)
        before = now.board_cost(a, now.contents[a]) + now.board_cost(b, now.contents[b])
        # so far may a board be filled beyond its width at this temperature
        margin = 0
        if now.weights.overflow:
            margin = int(min(float(MOST_OVERFLOW), MOST_EXPONENT * temperature / now.weights.overflow))
        freed_width = sum(now.contents[of].used - rest.used for of, rest in zip((a, b), fixed, strict=True))
        most_on_a = board_a.capacity - fixed[0].used
        least_on_a = freed_width - (board_b.capacity - fixed[1].used)
        least, greatest = min(least_on_a, most_on_a) - margin, max(least_on_a, most_on_a) + margin
        deal = StripDeal(a, b, strips, fixed, kerf, least, greatest, _dearest(before, temperature))
        here = sum(1 << k for k, strip in enumerate(freed) if now.board_of[strip] == a)
        way, change = self._drawn(self.strip_ways(now, deal), here, before, temperature)
        if way == here:
            return 0
        for k, strip in enumerate(freed):
            board = a if way >> k & 1 else b
            if now.board_of[strip] != board:
                now.take_strip(strip)
                now.put_strip(strip, board)
        now.measure_board(a)
        now.measure_board(b)
        return change

    def _deal_components(self, one: int, other: int | None, b: int, temperature: float) -> int:
        """Deals the components of two strips (`other` None: of one and a new one on board b) out anew. The change of
        the cost."""
        now = self.now
        a, dealt_out = now.board_of[one], [one] if other is None else [one, other]
        freed = [c for k in dealt_out for c in now.held[k]]
        changed, kerf = [a] if a == b else [a, b], now.boards[a].kerf
        if kerf != now.boards[b].kerf or len(freed) > MOST_SPLIT:
            return 0
        before = sum(now.strip_cost(now.strips[k]) for k in dealt_out)
        before += sum(now.board_cost(board, now.contents[board]) for board in changed)
        rest = now.on_board(a, dealt_out), now.on_board(b, dealt_out)
        # an overfull board may stay so, not become worse than the margin
        margin = MOST_OVERFLOW if now.weights.overflow else 0
        most_a, most_b = (max(now.contents[of].used, now.boards[of].capacity + margin) for of in (a, b))
        of = [now.components[c] for c in freed]
        deal = ComponentDeal(a, b, of, rest, kerf, (most_a, most_b), _dearest(before, temperature))
        here = (1 << len(now.held[one])) - 1
        way, change = self._drawn(component_ways(now, deal), here, before, temperature)
        if way == here:
            return 0
        if other is None:
            other = now.free_strips.pop()
            now.put_strip(other, b)
        for k, component in enumerate(freed):
            strip = one if way >> k & 1 else other
            if now.strip_of[component] != strip:
                now.move_component(component, strip)
        now.measure_strip(one)
        now.measure_strip(other)
        for board in changed:
            now.measure_board(board)
        return change

    def _shuffle(self, pool: list[int]) -> None:
        for k in range(len(pool)):
            chosen = k + self.draws.below(len(pool) - k)
            pool[k], pool[chosen] = pool[chosen], pool[k]

    def _drawn(self, offered: Ways, here: int, before: int, temperature: float) -> tuple[int, int]:
        """A way and the change of the cost; `here` is how things lie."""
        ways, costs = offered
        if not len(costs):
            return here, 0
        exponents = np.minimum((before - costs) / temperature, 300.0)
        # not by numpy's `exp`, which may differ from C's in the last bit
        until = list(accumulate(map(exp, exponents.tolist())))
        found = min(bisect_right(until, self.draws.unit() * until[-1]), len(until) - 1)
        return int(ways[found]), int(costs[found]) - before


def _dearest(before: int, temperature: float) -> int:
    """What costs more is too rare to be drawn."""
    room = MOST_EXPONENT * temperature
    return before + int(room) if room < 1e18 else _WORD >> 1
