"""Figures that a few wrong readings cannot move: the median, and the usual size of a difference.

The usual size is 1.4826 times the median of the absolute values, which is the standard deviation where they are
normally distributed (Rousseeuw and Croux, JASA 88, 1993, from memory). Everything is exact: fractions.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

_OF_THE_MEDIAN = Fraction(14826, 10000)


def median(values: Sequence[Fraction]) -> Fraction:
    """The middle value, of an even number the mean of the middle two. Raises ValueError when there is none."""
    if not values:
        raise ValueError("nothing has no median")
    ordered = sorted(values)
    middle = len(ordered) // 2
    if len(ordered) % 2:
        return ordered[middle]
    return (ordered[middle - 1] + ordered[middle]) / 2


def usual_size(differences: Sequence[Fraction]) -> Fraction:
    """The usual size of differences around zero, in their unit; 0 where there are none."""
    if not differences:
        return Fraction(0)
    return _OF_THE_MEDIAN * median([abs(difference) for difference in differences])


def agreed_part(*deviations: Fraction) -> Fraction:
    """By how much all of these deviate to the same side: the smallest of them, 0 where they do not agree.

    A step in the edge deviates from one side only, and so by nothing; a reading that is wrong deviates from both.
    """
    if deviations and all(deviation > 0 for deviation in deviations):
        return min(deviations)
    if deviations and all(deviation < 0 for deviation in deviations):
        return max(deviations)
    return Fraction(0)
