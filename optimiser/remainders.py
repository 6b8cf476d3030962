"""What is left of boards when they are cut as their layouts say: the rest of the width, and each strip's end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator

from optimiser.cutting.problem import Layout, LeftOver, Strip

Size = tuple[int, int]
"""(length, width) in mm."""


def taken_mm(strip: Strip, kerf_mm: int) -> int:
    """The length that a strip's pieces take with a kerf behind each; a tapered pair takes one length."""
    return sum(piece.length_mm + kerf_mm for piece in strip.pieces if not piece.head_to_tail)


def remainders_of(layout: Layout, size: Size, kerf_mm: int) -> Iterator[Size]:
    """The rectangles that one board of a layout leaves, (length, width) in mm; `size` is the board's."""
    length, width = size
    rest = width - sum(strip.width_mm + kerf_mm for strip in layout.strips)
    if rest > 0:
        yield length, rest
    for strip in layout.strips:
        end = length - taken_mm(strip, kerf_mm)
        if end > 0:
            yield end, strip.width_mm


def left_over_of(
    layouts: Iterable[Layout], size_of: Callable[[Layout], Size], kerf_mm: int, smallest: Size
) -> tuple[LeftOver, ...]:
    """The remainders at least as long and as wide as `smallest`, by stage and size.

    `smallest` is the least length and the least width of any piece that may still be cut: of the whole
    project, since what is too small for one delivery may serve a later one.
    """
    found: Counter[tuple[int, int, int, str]] = Counter()
    for layout in layouts:
        for length, width in remainders_of(layout, size_of(layout), kerf_mm):
            if length >= smallest[0] and width >= smallest[1]:
                found[layout.stage, length, width, layout.code] += layout.repeat
    return tuple(
        LeftOver(length_mm=length, width_mm=width, stage=stage, quantity=count, code=code)
        for (stage, length, width, code), count in sorted(found.items())
    )
