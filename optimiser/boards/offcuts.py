"""What is left of boards when they are cut as their layouts say: the rest of the width, and each strip's end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping

from optimiser.cutting.problem import CuttingPattern, Strip
from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern
from optimiser.model.sizes import Size
from optimiser.model.staging import DeliverySequence


def taken_mm(strip: Strip, kerf_mm: int) -> int:
    """The length that a strip's pieces take with a kerf behind each; a tapered pair takes one length."""
    return sum(piece.length_mm + kerf_mm for piece in strip.pieces if not piece.head_to_tail)


def remainders_of(layout: CuttingPattern, size: Size, kerf_mm: int) -> Iterator[Size]:
    """The rectangles that one board of a layout leaves, (length, width) in mm; `size` is the board's."""
    length, width = size
    rest = width - sum(strip.width_mm + kerf_mm for strip in layout.strips)
    if rest > 0:
        yield Size(length, rest)
    for strip in layout.strips:
        end = length - taken_mm(strip, kerf_mm)
        if end > 0:
            yield Size(end, strip.width_mm)


def left_over_of(
    layouts: Iterable[PlannedPattern], sizes: Mapping[str, Size], kerf_mm: int, smallest: Size
) -> tuple[PlannedLeftOver, ...]:
    """The remainders at least as long and as wide as `smallest`, by delivery and size.

    `sizes` are those of the boards and the stock by the name that a pattern gives them.
    `smallest` is the least length and the least width of any piece that may still be cut: of the whole
    project, since what is too small for one delivery may serve a later one.
    """
    found: Counter[tuple[DeliverySequence, int, int, str]] = Counter()
    for layout in layouts:
        for rest in remainders_of(layout, sizes[layout.stock], kerf_mm):
            if rest.holds(smallest):
                found[layout.sequence, *rest, layout.code] += layout.repeat
    return tuple(
        PlannedLeftOver(length_mm=length, width_mm=width, stage=sequence, quantity=count, code=code)
        for (sequence, length, width, code), count in sorted(found.items())
    )
