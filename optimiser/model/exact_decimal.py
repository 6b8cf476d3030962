"""Exact decimals that are JSON numbers: rates and weights."""

from __future__ import annotations

from decimal import Decimal


def exact_decimal(value: object) -> object:
    """Floats pass through their shortest decimal text, so that 0.1 is one tenth exactly."""
    return Decimal(repr(value)) if isinstance(value, float) else value


def decimal_out(value: Decimal) -> float | int | str:
    """A JSON number where its shortest text is the value itself, and text where it has too many places for that."""
    if value == value.to_integral_value():
        return int(value)
    return float(value) if Decimal(repr(float(value))) == value else str(value)
