"""Whether the left-over pieces that a result claims really remain of its boards."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator

from optimiser.checking.strips import Sheet, lengths_taken
from optimiser.cutting.problem import CuttingPattern, LeftOver

Place = tuple[str, int]
"""A board's code and the stage from which it stands there."""


def remainders_of(layout: CuttingPattern, sheet: Sheet) -> Iterator[tuple[int, int]]:
    """What one board of a layout leaves, (length, width): the uncut width, and the end of each strip.

    One more kerf parts a remainder from what is cut beside it.
    """
    kerf = sheet.kerf_mm
    width = sheet.width_mm - sum(strip.width_mm + kerf for strip in layout.strips)
    if width > 0:
        yield sheet.length_mm, width
    for strip in layout.strips:
        length = sheet.length_mm - sum(taken + kerf for taken in lengths_taken(strip))
        if length > 0 and strip.width_mm > 0:
            yield length, strip.width_mm


def broken_rules_of_left_over(
    left_over: Iterable[LeftOver], layouts: Iterable[tuple[CuttingPattern, Sheet, str]]
) -> Iterator[str]:
    """Every left-over must lie within a remainder of its code and stage, and each remainder serves one.

    `layouts` come with their sheet and their board's code. A left-over without a code may be of any.
    """
    left_over = list(left_over)
    coded = any(item.code for item in left_over)
    remain: dict[Place, Counter[tuple[int, int]]] = defaultdict(Counter)
    for layout, sheet, code in layouts:
        for size in remainders_of(layout, sheet):
            remain[code if coded else "", layout.stage][size] += max(0, layout.repeat)
    claimed: dict[Place, Counter[tuple[int, int]]] = defaultdict(Counter)
    yield from broken_sizes_of_left_over(left_over)
    for item in left_over:
        if _is_something(item):
            claimed[item.code, item.stage][item.length_mm, item.width_mm] += item.quantity
    for (code, stage), sizes in sorted(claimed.items()):
        for (length, width), missing in claims_not_matched(sizes, remain[code, stage]):
            yield (
                f"left-over {length} x {width} mm{f' of {code}' if code else ''}, stage {stage}: {missing} of"
                f" {sizes[length, width]} do not remain of any board"
            )


def broken_sizes_of_left_over(left_over: Iterable[LeftOver]) -> Iterator[str]:
    """Every left-over must be something."""
    for item in left_over:
        if not _is_something(item):
            yield (
                f"left-over {item.length_mm} x {item.width_mm} mm, stage {item.stage}: its sizes and quantity"
                f" ({item.quantity}) must be above 0"
            )


def _is_something(item: LeftOver) -> bool:
    return item.length_mm > 0 and item.width_mm > 0 and item.quantity > 0


def claims_not_matched(
    claimed: Counter[tuple[int, int]], remain: Counter[tuple[int, int]]
) -> Iterator[tuple[tuple[int, int], int]]:
    """Claims that no remainder is left for, with how many.

    Longest claims first, each to the narrowest remainder that is long and wide enough: an exchange argument
    shows that this matches as many as any other way.
    """
    waiting = sorted(remain.items())  # longest last
    open_widths: list[list[int]] = []  # [width, how many], narrowest first, all long enough
    for (length, width), count in sorted(claimed.items(), reverse=True):
        while waiting and waiting[-1][0][0] >= length:
            (_, found), number = waiting.pop()
            insort(open_widths, [found, number])
        position = bisect_left(open_widths, [width, 0])
        while count and position < len(open_widths):
            used = min(count, open_widths[position][1])
            count -= used
            open_widths[position][1] -= used
            if open_widths[position][1] == 0:
                open_widths.pop(position)
            else:
                position += 1
        if count:
            yield (length, width), count
