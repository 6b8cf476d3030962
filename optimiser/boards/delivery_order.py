"""The order in which a board is cut: by delivery, so that what is not needed yet stays one remainder.

Strips stand from the datum edge in the order of the first delivery that needs one of their pieces, and so do the
pieces along a strip from the datum end. At every delivery the strips not ripped yet are then one rectangle at
the far edge, and the pieces of a strip not cut yet are one rectangle at its far end. A tapered pair takes one
length of its strip and goes with the earlier of its two pieces.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeVar

from optimiser.cutting.problem import CutPiece, CuttingPattern, Strip

StageOf = Callable[[str], int]
"""The delivery that needs a piece, by its id; any numbers that rise from delivery to delivery."""

Pattern = TypeVar("Pattern", bound=CuttingPattern)
"""The solver's pattern, or a plan's."""

Slot = tuple[CutPiece, ...]
"""What takes one length of a strip: a piece, or the two of a tapered pair."""


def slots_of(strip: Strip) -> tuple[Slot, ...]:
    """The strip's pieces by the length they take, from the datum end."""
    slots: list[list[CutPiece]] = []
    for piece in strip.pieces:
        if piece.head_to_tail and slots:
            slots[-1].append(piece)
        else:
            slots.append([piece])
    return tuple(tuple(slot) for slot in slots)


def first_need(pieces: Iterable[CutPiece], stage_of: StageOf) -> int:
    """The first delivery that needs one of these pieces; there must be at least one."""
    return min(stage_of(piece.id) for piece in pieces)


def in_delivery_order(layout: Pattern, stage_of: StageOf) -> Pattern:
    """The same cuts in the order of delivery: strips and pieces by first need, else as they were.

    The two of a tapered pair change places where the second is needed first: turning the strip end for end
    turns one into the other, so the pair takes no more room. Strips without pieces go last.
    """
    strips = [_strip_in_order(strip, stage_of) for strip in layout.strips]
    filled = [strip for strip in strips if strip.pieces]
    empty = [strip for strip in strips if not strip.pieces]
    ordered = tuple(sorted(filled, key=lambda strip: first_need(strip.pieces, stage_of)) + empty)
    return layout if ordered == layout.strips else layout.model_copy(update={"strips": ordered})


def _strip_in_order(strip: Strip, stage_of: StageOf) -> Strip:
    slots = [_pair_in_order(slot, stage_of) for slot in slots_of(strip)]
    slots.sort(key=lambda slot: first_need(slot, stage_of))
    pieces = tuple(piece for slot in slots for piece in slot)
    return strip if pieces == strip.pieces else strip.model_copy(update={"pieces": pieces})


def _pair_in_order(slot: Slot, stage_of: StageOf) -> Slot:
    if len(slot) != 2 or stage_of(slot[0].id) <= stage_of(slot[1].id):
        return slot
    first, second = slot
    return (
        second.model_copy(update={"head_to_tail": False}),
        first.model_copy(update={"head_to_tail": True}),
    )
