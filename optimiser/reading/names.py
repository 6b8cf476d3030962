"""Names that differ only in what nobody sees: dashes and spaces of every kind match each other."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

_DASHES = dict.fromkeys(map(ord, "‐‑‒–—―⁃−﹘﹣－"), "-")
_UNSEEN = dict.fromkeys(map(ord, "\u00ad\u200b\u200c\u200d\u2060\ufeff"), None)
_AROUND_DASHES = re.compile(r" *- *")


def with_plain_spaces_and_dashes(written: str) -> str:
    """Text with '-' for every dash (figure dash, en dash, minus), ' ' for every space (non-breaking, thin), and
    without what has no width."""
    if written.isascii():
        return written
    spaced = "".join(
        " " if letter.isspace() or unicodedata.category(letter) == "Zs" else letter for letter in written
    )
    return spaced.translate(_DASHES).translate(_UNSEEN)


def as_compared(name: str) -> str:
    """A name as it is compared: plain dashes without spaces around them, single spaces. Capitals still count."""
    plain = " ".join(with_plain_spaces_and_dashes(name).split())
    return _AROUND_DASHES.sub("-", plain)


class KnownNames:
    """The names that a table defines, as it spells them."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names = frozenset(names)
        spelt: dict[str, str | None] = {}
        for name in sorted(self.names):
            key = as_compared(name)
            spelt[key] = None if key in spelt else name
        self._spelt = spelt

    def spelt_here(self, name: str) -> str:
        """The name as its table spells it, where the two differ in dashes and spaces alone; else as it is."""
        if name in self.names:
            return name
        return self._spelt.get(as_compared(name)) or name
