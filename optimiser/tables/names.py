"""The order of product codes in a table."""

from __future__ import annotations

import re


def by_size(code: str) -> list[tuple[int, str]]:
    """A key that sorts K-20 before K-100: numbers in a code count as numbers."""
    return [(int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"([0-9]+)", code)]
