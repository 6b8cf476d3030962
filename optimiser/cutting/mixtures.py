"""Several sizes of board: how many of each can hold all pieces at all.

Whatever the pieces are worth, the boards of a plan must be able to hold that worth: with V(c) the most that a board of
size c holds, the sum of V(c) n(c) is at least the worth of all pieces less what the offcuts can hold. Each choice of
worths is such a condition on the numbers n(c), in whole numbers and exact; the prices of the linear program give the
sharp ones (the inequalities of its projection on the numbers of boards, as in J. F. Benders, Numerische Mathematik 4,
1962). So the least cost is that of the cheapest whole numbers that keep all conditions, which is far above the linear
bound where sizes are few and dear. Numbers that still seem possible are asked of the linear program itself, all but one
of them as limits: it says how many of the one are needed, or what the next condition is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from copy import copy
from dataclasses import dataclass

import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.generation import NEARLY, ColumnGeneration
from optimiser.cutting.master import BoardColumn, Column, StripColumn
from optimiser.cutting.pricing import Priced

MOST_MIXTURES = 400_000  # of all sizes but one, beyond which they are not told apart
MOST_WORK = 100_000_000  # of the linear solver: a second or so, the same on every machine


@dataclass(frozen=True)
class Mixture:
    """So many boards of each code, in the order of `Mixtures.codes`, and what they cost in the solver's units."""

    counts: tuple[int, ...]
    cost: int


class Mixtures:
    """Numbers of boards of each code below a cost, and for each choice of the others the fewest of the first code that
    no condition forbids."""

    def __init__(self, demand: Demand, below: int) -> None:
        """`below`: the cost that a mixture must stay below. Raises ValueError where there are too many of them, or no
        code takes every piece: see `can_tell`."""
        self.demand = demand
        self.below = below
        first = _takes_all(demand)
        if first is None:
            raise ValueError("no size takes every piece")
        price = {s.code: s.price for s in demand.sources if s.available is None}
        self.codes = (first, *(code for code in price if code != first))
        self.prices = tuple(price[code] for code in self.codes)
        if _number(self.prices, below) > MOST_MIXTURES:
            raise ValueError("too many numbers of boards")
        self._others = np.indices([-(-below // p) for p in self.prices[1:]], dtype=np.int64)
        self._first = np.zeros(self._others.shape[1:], np.int64)
        self._needed = np.zeros(self._others.shape[1:])  # the same before it is rounded up
        rest = sum(p * n for p, n in zip(self.prices[1:], self._others, strict=True))
        self._cost_of_others = np.asarray(rest, dtype=np.int64)

    @staticmethod
    def can_tell(demand: Demand, below: int) -> bool:
        """Whether there are several sizes, one of which takes every piece, and few enough numbers of them."""
        prices = {s.code: s.price for s in demand.sources if s.available is None}
        first = _takes_all(demand)
        if len(prices) < 2 or first is None or min(prices.values()) <= 0:
            return False
        others = [price for code, price in prices.items() if code != first]
        return _number((prices[first], *others), below) <= MOST_MIXTURES

    def note(self, priced: Priced) -> None:
        """Adds the condition of these values of the pieces."""
        need = priced.worth - priced.stock_worth
        held = [priced.worths.get(code, 0) for code in self.codes]
        left = need - sum(worth * n for worth, n in zip(held[1:], self._others, strict=True))
        if held[0] > 0:
            self._first = np.maximum(self._first, -(-left // held[0]))
            self._needed = np.maximum(self._needed, left / held[0])
        else:
            self._first = np.where(left > 0, self.below, self._first)

    def copied(self) -> Mixtures:
        """The same for itself, where more is forbidden than is proved."""
        same = copy(self)
        same._first = self._first.copy()
        return same

    def forbid(self, mixture: Mixture) -> None:
        """What is proved to be too few: the same with one more of the first code is next."""
        at = mixture.counts[1:]
        self._first[at] = max(int(self._first[at]), mixture.counts[0] + 1)

    def cheapest(self) -> Mixture | None:
        """The cheapest mixture that no condition forbids; None where none costs less than `below`."""
        costs = self._cost_of_others + self.prices[0] * self._first
        at = np.unravel_index(int(np.argmin(costs)), costs.shape)
        cost = int(costs[at])
        if cost >= self.below:
            return None
        return Mixture((int(self._first[at]), *(int(k) for k in at)), cost)

    def room(self, counts: Mapping[str, int]) -> float:
        """How many boards of the first code more than the linear program needs; negative where it is forbidden, none
        known beyond the cost."""
        at = tuple(counts.get(code, 0) for code in self.codes[1:])
        known: tuple[int, ...] = self._first.shape
        if any(n >= most for n, most in zip(at, known, strict=True)):
            return 0.0
        first = counts.get(self.codes[0], 0)
        return first - float(self._needed[at]) if first >= int(self._first[at]) else -1.0

    def possible(self, counts: Mapping[str, int]) -> bool:
        """Whether no condition forbids so many boards of each code; what is beyond the cost is not known to be."""
        return self.room(counts) >= 0


def _takes_all(demand: Demand) -> str | None:
    """A code whose boards take every piece, at its own stage; the cheapest by area."""
    served: dict[str, set[int]] = {}
    rates: dict[str, float] = {}
    for source in demand.sources:
        if source.available is None:
            takes = demand.families[source.family].single_component
            fits = {t for t in takes if demand.types[t].width_min <= source.width}
            served.setdefault(source.code, set()).update(fits)
            rates[source.code] = source.price / (source.length * source.width)
    whole = [code for code, types in served.items() if len(types) == len(demand.types)]
    return min(whole, key=lambda code: (rates[code], code), default=None)


def _number(prices: tuple[int, ...], below: int) -> int:
    """How many numbers of all codes but the first stay below a cost, each by itself."""
    number = 1
    for price in prices[1:]:
        number *= -(-below // max(1, price))
    return number


def bound_by_mixtures(
    generation: ColumnGeneration, mixtures: Mixtures, out_of_time: Callable[[], bool]
) -> int:
    """The cost of the cheapest mixture that the linear program allows, or `mixtures.below` where it allows none that
    costs less; so far as it has come where time or `MOST_WORK` of the linear solver is out."""
    master = generation.master
    patience = master.work + MOST_WORK
    generation.on_priced = mixtures.note
    try:
        master.add(_columns_of_one_piece(generation, mixtures.codes[0]))
        if master.solve() == float("inf"):
            return generation.lower_bound
        generation.price_here()
        while True:
            cheapest = mixtures.cheapest()
            if cheapest is None:
                return mixtures.below
            if not _forbidden(
                generation, mixtures, cheapest, lambda: out_of_time() or master.work > patience
            ):
                return max(generation.lower_bound, cheapest.cost)
    finally:
        generation.on_priced = None
        master.limit_boards({})


def _forbidden(
    generation: ColumnGeneration, mixtures: Mixtures, mixture: Mixture, tired: Callable[[], bool]
) -> bool:
    """Whether the linear program needs more of the first code where the others are limited so: then it has a condition
    that forbids the mixture."""
    master = generation.master
    master.limit_boards(dict(zip(mixtures.codes[1:], mixture.counts[1:], strict=True)))
    while not tired():
        value = master.solve()
        if value <= mixtures.prices[0] * mixture.counts[0] + NEARLY or value == float("inf"):
            return False
        new = generation.price_here()
        if not mixtures.possible(dict(zip(mixtures.codes, mixture.counts, strict=True))):
            return True
        if not new:
            return False  # by less than the linear solver's tolerance
    return False


def _columns_of_one_piece(generation: ColumnGeneration, code: str) -> Iterator[Column]:
    """Every piece alone on a board of its own: however few boards of the other codes there are, these serve."""
    demand = generation.demand
    for s, source in enumerate(demand.sources):
        if source.code != code or source.available is not None:
            continue
        family = demand.families[source.family]
        for c in family.single_component.values():
            width = family.index_of_width[int(family.width_min[c])]
            strip = StripColumn(source.family, width, ((c, 1),))
            if family.widths[width] <= source.width:
                yield BoardColumn(s, ((width, 1),))
                if not generation.is_collapsed_solo(strip):
                    yield strip
