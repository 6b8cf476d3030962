"""A list of names in one sentence that stays readable however many there are."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str], most: int) -> str:
    """'L01, L02 and 5 more': so many of the names spelt out, the others counted."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(names[:most]) + more
