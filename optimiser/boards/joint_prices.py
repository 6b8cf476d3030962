"""Prices of pieces that no board can hold more of than it costs, whatever the pieces: what a bound over joints needs.

A piece of length l and least width w costs sum_k f_k(w) h_k(l). Each h_k is a dual feasible function of length: the
pieces along a strip never sum to more than it is worth. Each f_k is nondecreasing, so a strip of width s holds at
most sum_k f_k(s) h_k(strip), and an outer knapsack over strip widths says what a board holds. (Dual feasible functions
for two-stage cutting: Fekete and Schepers, Mathematics of Operations Research 29, 2004; Alves, Clautiaux, Valerio de
Carvalho and Rietz, Dual-Feasible Functions for Integer Programming and Combinatorial Optimization, 2016.)

All is in whole numbers: what is proved with these prices is proved.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from optimiser.cutting.kernels import price_boards
from optimiser.joints.arrays import Integers


@dataclass(frozen=True)
class LengthFunctions:
    """Dual feasible functions of length for strips `length` mm long, pieces parted by `kerf` mm.

    `worth[k, l]`: whole numbers, none below 0 and none falling with l; h_k(l) = worth[k, l] / unit.
    """

    length: int
    kerf: int
    worth: Integers

    @classmethod
    @lru_cache(maxsize=64)  # a few sizes of board serve every part, staging and joint round of a plan
    def of(cls, length: int, kerf: int, thresholds: tuple[int, ...]) -> LengthFunctions:
        """Length over the strip's length; and for each threshold t the same, but nothing below t and the whole strip
        where less than t is left beside the piece (f_0 of Fekete and Schepers)."""
        size, room = np.arange(length + 1, dtype=np.int64) + kerf, length + kerf
        size[0] = 0
        functions = []
        for threshold in dict.fromkeys((0, *thresholds)):
            worth = np.where(size < threshold + kerf, 0, size) if threshold else size.copy()
            if threshold and 2 * (threshold + kerf) <= room:
                worth[size > room - (threshold + kerf)] = room
            functions.append(worth)
        half = np.where(2 * size > room, 2, np.where(2 * size == room, 1, 0)) * room  # twice: a half counts
        return cls(length, kerf, np.vstack([2 * np.array(functions), half]))

    @property
    def unit(self) -> int:
        """What the whole strip is worth."""
        return 2 * (self.length + self.kerf)

    @cached_property
    def held(self) -> Integers:
        """`held[k, room]`: the most that pieces along a strip can be worth, kerfs included: knapsacks, exact."""
        room = self.length + self.kerf
        best = np.zeros((len(self.worth), room + 1), dtype=np.int64)
        for here in range(1 + self.kerf, room + 1):
            best[:, here] = best[:, here - 1]
            # what the room left of a piece of 1, 2, 3, ... mm holds
            before = best[:, : here - self.kerf][:, ::-1]
            np.maximum(
                best[:, here],
                (before + self.worth[:, 1 : here - self.kerf + 1]).max(axis=1),
                out=best[:, here],
            )
        return best

    def held_by(self, length: int) -> Integers:
        """The most that pieces along a strip of this length, at most the functions' own, can be worth by each."""
        return self.held[:, length + self.kerf]


Strip = tuple[tuple[int, ...], ...]
"""For each function the indices of the widths whose pieces a strip is taken to hold: one, or two tapered ones."""

Pattern = tuple[tuple[Strip, int], ...]
"""Strips and how many of each lie across a sheet."""


@dataclass(frozen=True)
class Filling:
    """The most that a sheet can hold, and patterns of strips that hold nearly as much."""

    worth: int
    patterns: tuple[Pattern, ...]


@dataclass(frozen=True)
class Sheet:
    """A board, or offcuts alike: `held` is what a strip of its length is worth by each function, `price` of a board
    in whole units (0: an offcut), `available` how many there are (None: any number)."""

    name: str
    width: int
    held: Integers
    price: int
    available: int | None


@dataclass(frozen=True)
class SheetGroup:
    """Boards of one length, with the offcuts that are paid by their prices: they share the functions."""

    codes: tuple[str, ...]
    functions: LengthFunctions
    widths: Integers  # the strip widths at which an f_k may rise, ascending
    sheets: tuple[Sheet, ...]

    tapers: bool  # whether two tapered pieces may lie head to tail in a strip

    def strips(self, steps: Integers) -> Strips:
        """What strips hold at `steps[k, width]`, the values of f_k."""
        if not self.tapers:
            return Strips(
                self, steps, np.zeros((len(steps), 0), np.int64), np.zeros((len(steps), 0), np.int64)
            )
        pairs, first = zip(*(_best_pairs(step) for step in steps), strict=True)
        return Strips(self, steps, np.array(pairs), np.array(first))

    def price(self, steps: Integers, widest: int, longest: int, never: int) -> Integers:
        """sum_k f_k(w) h_k(l) for widths 0 to `widest` and lengths 0 to `longest`; `never` where no board of the
        group is so large. A width below the first step costs nothing."""
        at = np.searchsorted(self.widths, np.arange(widest + 1), side="right") - 1
        by_width = np.where(at >= 0, steps[:, np.maximum(at, 0)], 0)
        table = np.full((widest + 1, longest + 1), never, dtype=np.int64)
        within = min(longest, self.functions.length) + 1
        np.einsum("kw,kl->wl", by_width, self.functions.worth[:, :within], out=table[:, :within])
        bought = [sheet.width for sheet in self.sheets if sheet.available is None]
        table[max(bought) + 1 :] = never
        return table


@dataclass(frozen=True)
class Strips:
    """What strips of every width hold at the steps of f_k. `pairs[k, i]` is the most that two tapered pieces head to
    tail are worth whose mean widths' indices sum to i or less, `first[k, i]` the index of the one."""

    group: SheetGroup
    steps: Integers
    pairs: Integers
    first: Integers

    def fill(self, sheet: Sheet, above: int | None = None, most: int = 24) -> Filling:
        """Fills a sheet: the outer knapsack. With the patterns worth more than `above`, at most so many, the best
        first."""
        widths, kerf = self.group.widths, self.group.functions.kerf
        values = (self.steps * sheet.held[:, None]).sum(axis=0)
        sizes, worths, made = widths, values, [self._single(i) for i in range(len(widths))]
        paired = self._worthwhile_pairs(sheet, values)
        if paired:
            sizes = np.concatenate([widths, [width for width, _, _ in paired]])
            worths = np.concatenate([values, [worth for _, worth, _ in paired]])
            made += [strip for _, _, strip in paired]
            order = np.argsort(sizes, kind="stable")
            sizes, worths, made = sizes[order], worths[order], [made[i] for i in order]
        room = sheet.width + kerf
        found = price_boards(
            (sizes + kerf).astype(np.int32),
            (room // (sizes + kerf)).astype(np.int32),
            np.where(sizes <= sheet.width, worths, 0),
            room,
        )
        best = int(found.best[0])
        which: list[int] = []
        if above is not None:
            order = np.argsort(-found.best, kind="stable").tolist()
            used: set[int] = set()
            for k in order:
                if found.best[k] <= above or len(which) == most:
                    break
                strips = {i for i, _ in found.pairs(k)}
                if len(strips - used) >= len(strips) / 2:
                    used |= strips
                    which.append(k)
        patterns = dict.fromkeys(tuple((made[i], n) for i, n in found.pairs(k)) for k in which)
        return Filling(best, tuple(patterns)[:most])

    def alike(self, sheet: Sheet) -> tuple[Pattern, ...]:
        """For every width, the sheet ripped into strips of it alone."""
        kerf = self.group.functions.kerf
        return tuple(
            ((self._single(i), (sheet.width + kerf) // (width + kerf)),)
            for i, width in enumerate(self.group.widths.tolist())
            if width <= sheet.width
        )

    def _single(self, width: int) -> Strip:
        return ((width,),) * len(self.steps)

    def _worthwhile_pairs(self, sheet: Sheet, values: Integers) -> list[tuple[int, int, Strip]]:
        """(strip width, worth, strip) of pairs that are worth more than the same strip cut in two.

        The pieces along a strip may pair in other ways by each function, so each function takes its own best.
        """
        if not self.pairs.size:
            return []
        widths, count = self.group.widths, len(self.group.widths)
        alone = self.steps[
            :, np.minimum(np.arange(2 * count - 1) + int(widths[0]) + self.group.functions.kerf, count - 1)
        ]
        together = np.maximum(self.pairs, alone)
        worth = (together * sheet.held[:, None]).sum(axis=0)
        apart = np.maximum(_best_pairs(values)[0], (alone * sheet.held[:, None]).sum(axis=0))
        found: list[tuple[int, int, Strip]] = []
        most = 0
        for i in np.flatnonzero(worth > apart).tolist():
            width = 2 * int(widths[0]) + i + self.group.functions.kerf
            if width > sheet.width or worth[i] <= most:
                continue
            most = int(worth[i])
            strip = tuple(
                (int(first[i]), self._second(k, i))
                if pair[i] > lone[i]
                else (min(width - int(widths[0]), count - 1),)
                for k, (pair, lone, first) in enumerate(zip(self.pairs, alone, self.first, strict=True))
            )
            found.append((width, most, strip))
        return found

    def _second(self, function: int, i: int) -> int:
        """The index of the other piece of the best pair."""
        step, first = self.steps[function], int(self.first[function, i])
        return int(np.searchsorted(step, self.pairs[function, i] - step[first]))


def _best_pairs(step: Integers) -> tuple[Integers, Integers]:
    """By the sum of two indices at most, the greatest sum of two steps, and the index of one of them."""
    count = len(step)
    best = np.zeros(2 * count - 1, dtype=np.int64)
    first = np.zeros(2 * count - 1, dtype=np.int64)
    for i in range(count):
        here = slice(i, i + count)
        better = step[i] + step > best[here]
        best[here][better] = (step[i] + step)[better]
        first[here][better] = i
    rises = np.maximum.accumulate(best)
    last = np.maximum.accumulate(np.where(best == rises, np.arange(len(best)), 0))
    return rises, first[last]
