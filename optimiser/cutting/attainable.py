"""Which costs a whole number of boards can have at all: what lifts a fractional bound to the next real price.

With boards of 443 and 530 cents no plan costs 500; and where the pieces that only one code may serve need so many
of it, and all pieces so many boards, fewer combinations remain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import gcd

MOST_COMBINATIONS = 200_000


@dataclass(frozen=True)
class Attainable:
    """Prices of the board codes, how many of each are needed at least, and of all together."""

    prices: tuple[int, ...]
    floors: tuple[int, ...]
    fewest: int

    def least(self, bound: int) -> int:
        """The least cost of a whole number of boards that is at least `bound`.

        Exact over combinations where they are few, else the next multiple of the prices' common divisor.
        """
        common = gcd(*self.prices)
        if common == 0:
            return bound
        by_divisor = -(-bound // common) * common
        if len(self.prices) == 1:
            price = self.prices[0]
            return max(by_divisor, price * max(self.floors[0], self.fewest))
        most = 1
        for price in sorted(self.prices)[1:]:
            most *= bound // max(1, price) + 2
        if most > MOST_COMBINATIONS or min(self.prices) == 0:
            return by_divisor
        order = sorted(range(len(self.prices)), key=lambda code: -self.prices[code])
        best = self._least([self.prices[k] for k in order], [self.floors[k] for k in order], bound, 0, 0)
        return max(by_divisor, best)

    def _least(self, prices: Sequence[int], floors: Sequence[int], bound: int, cost: int, boards: int) -> int:
        if len(prices) == 1:
            missing = max(floors[0], -(-(bound - cost) // prices[0]), self.fewest - boards, 0)
            return cost + missing * prices[0]
        best: int | None = None
        count = floors[0]
        while best is None or cost + count * prices[0] < best:
            found = self._least(prices[1:], floors[1:], bound, cost + count * prices[0], boards + count)
            best = found if best is None else min(best, found)
            if cost + count * prices[0] >= bound and boards + count >= self.fewest:
                break
            count += 1
        return best
