"""Lengths that are no whole millimetres, as they are told."""

from __future__ import annotations

from fractions import Fraction


def shown_mm(length_mm: Fraction | int) -> str:
    """A length to a tenth of a millimetre, halves to the even tenth: '148.5 mm', '150 mm', '-7 mm'."""
    tenths = round(Fraction(length_mm) * 10)
    whole, part = divmod(abs(tenths), 10)
    return f"{'-' if tenths < 0 else ''}{whole}{f'.{part}' if part else ''} mm"
