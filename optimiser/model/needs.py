"""What each level needs of each product."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

ByLevel = Mapping[str, Mapping[str, int]]
"""Level -> product code -> number, as a plain mapping."""


class LevelNeeds(Mapping[str, Mapping[str, int]]):
    """By level and product code how many single boards, brackets or anchors, or millimetres of tape, are needed there.

    A mapping that never changes, and equals a plain one of the same numbers. Needs add up: `some + others`.
    """

    def __init__(self, by_level: ByLevel | None = None) -> None:
        self._by_level = {level: dict(here) for level, here in (by_level or {}).items()}

    def __getitem__(self, level: str) -> Mapping[str, int]:
        return self._by_level[level]

    def __iter__(self) -> Iterator[str]:
        return iter(self._by_level)

    def __len__(self) -> int:
        return len(self._by_level)

    def __repr__(self) -> str:
        return f"LevelNeeds({self._by_level!r})"

    def of(self, level: str, code: str) -> int:
        """What a level needs of a product; 0 where it needs none."""
        return self._by_level.get(level, {}).get(code, 0)

    def at(self, level: str) -> Mapping[str, int]:
        """What a level needs, by product code; empty where it needs nothing."""
        return self._by_level.get(level, {})

    def total(self, levels: Iterable[str] | None = None) -> Counter[str]:
        """What these levels (None: all) need together, by product code."""
        found: Counter[str] = Counter()
        for level in self._by_level if levels is None else levels:
            found.update(self.at(level))
        return found

    def __add__(self, other: LevelNeeds) -> LevelNeeds:
        levels = dict.fromkeys((*self, *other))
        return LevelNeeds(
            {
                level: {
                    code: self.of(level, code) + other.of(level, code)
                    for code in dict.fromkeys((*self.at(level), *other.at(level)))
                }
                for level in levels
            }
        )
