"""Exact figures as a line shows them."""

from __future__ import annotations

from fractions import Fraction


def figure(value: Fraction | float, form: str = "g") -> str:
    """A number in Python's format `form`; one that a wrong plan made too large for any float says so."""
    try:
        return format(float(value), form)
    except OverflowError:
        return "a number of hundreds of digits"


def times(number: int) -> str:
    """0 -> 'never', 1 -> 'once', 3 -> '3 times'."""
    return {0: "never", 1: "once"}.get(number, f"{number} times")
