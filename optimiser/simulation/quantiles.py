"""Order quantities from draws: the quantile, how sure it is, and where shortage and surplus costs balance.

Everything is on order statistics, so no shape of the distribution is assumed.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, exp, lgamma, log

CONFIDENCE = 0.95


def quantile(ascending: Sequence[int], level: float) -> int:
    """The least of the values that at least a share `level` of them do not exceed.

    `ascending` is sorted and not empty, 0 < level <= 1. Raises ValueError otherwise.
    """
    if not ascending or not 0 < level <= 1:
        raise ValueError("a quantile needs values and a level above 0 and at most 1")
    return ascending[ceil(Fraction(repr(float(level))) * len(ascending)) - 1]


def at_ranks(ascending: Sequence[int], ranks: tuple[int, int]) -> tuple[int | None, int | None]:
    """Between which values the true quantile lies, with the confidence of `interval_ranks`, whatever the distribution:
    those at the ranks of the interval's ends.

    The number of draws below the true quantile is binomial, so order statistics bound it (H. A. David and H. N.
    Nagaraja, Order Statistics, 3rd ed. 2003, section 7.1). None: there are too few draws to bound that side.
    """
    lower, upper = ranks
    return (
        ascending[lower - 1] if lower >= 1 else None,
        ascending[upper - 1] if upper <= len(ascending) else None,
    )


def interval_ranks(draws: int, level: float) -> tuple[int, int]:
    """The ranks (from 1) of the interval's ends; rank 0 or draws + 1 means that a side is open.

    With B binomial(draws, level): the greatest l with P(B < l) and the least u with P(B >= u) at most half of what
    CONFIDENCE leaves, so that P(l <= B < u) is at least CONFIDENCE.
    """
    each = (1 - CONFIDENCE) / 2
    chances = [_binomial(draws, level, k) for k in range(draws + 1)]
    lower, below = 0, 0.0
    while lower <= draws and below + chances[lower] <= each:
        below += chances[lower]
        lower += 1
    upper, above = draws + 1, 0.0
    while upper > 0 and above + chances[upper - 1] <= each:
        above += chances[upper - 1]
        upper -= 1
    return lower, upper


def _binomial(draws: int, level: float, successes: int) -> float:
    """The chance of so many successes."""
    if level >= 1:
        return float(successes == draws)
    ways = lgamma(draws + 1) - lgamma(successes + 1) - lgamma(draws - successes + 1)
    return exp(ways + successes * log(level) + (draws - successes) * log(1 - level))


def critical_fractile(shortage_cost: float, surplus_cost: float) -> float:
    """The service level at which the expected cost of shortage and surplus is least: cu / (cu + co).

    `shortage_cost` is that of one missing, `surplus_cost` that of one left over; only their ratio counts (the
    newsvendor's rule: K. J. Arrow, T. Harris and J. Marschak, 'Optimal inventory policy', Econometrica 19, 1951).
    Raises ValueError unless the shortage costs something and the surplus no less than nothing.
    """
    if not shortage_cost > 0 or not surplus_cost >= 0:
        raise ValueError("a shortage must cost more than 0 and a surplus not less than 0")
    return shortage_cost / (shortage_cost + surplus_cost)


def expected_cost(values: Sequence[int], ordered: int, shortage_cost: float, surplus_cost: float) -> float:
    """The mean cost of what is missing or left over when so many are ordered."""
    missing = sum(value - ordered for value in values if value > ordered)
    left = sum(ordered - value for value in values if value < ordered)
    return (shortage_cost * missing + surplus_cost * left) / len(values)
