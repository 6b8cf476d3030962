"""Patterns that a knapsack found, on plain arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int32]
Values = NDArray[np.int64]
States = NDArray[np.uint64]  # of random numbers
Pairs = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Patterns:
    """Patterns of (item, copies) pairs: pattern k is `items[start[k]:end[k]]` with its `copies`; `best` are the
    values that the kernel gives them."""

    best: Values
    start: Ints
    end: Ints
    items: Ints
    copies: Ints

    @classmethod
    def of(cls, best: Sequence[int], patterns: Sequence[Pairs]) -> Patterns:
        """From the patterns' values and their pairs."""
        ends = np.cumsum([0, *map(len, patterns)]).astype(np.int32)
        items, copies = (
            np.array([pair[place] for pairs in patterns for pair in pairs], dtype=np.int32)
            for place in (0, 1)
        )
        return cls(np.array(best, dtype=np.int64), ends[:-1], ends[1:], items, copies)

    def pairs(self, k: int) -> Pairs:
        """Pattern k as a tuple of (item, copies)."""
        a, b = int(self.start[k]), int(self.end[k])
        return tuple(zip(self.items[a:b].tolist(), self.copies[a:b].tolist(), strict=True))
