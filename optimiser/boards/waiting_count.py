"""What waits in cutting patterns: pieces, by how many deliveries, and in how many remainders."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from optimiser.boards.delivery_order import first_need, slots_of
from optimiser.cutting.problem import CuttingPattern, Strip
from optimiser.model.immutable import Immutable


class WaitingCount(Immutable):
    """What waits: pieces needed later than their board comes, by how many deliveries in all, and in how many
    remainders they lie."""

    pieces: int
    piece_stages: int
    remainders: int


def count_waiting(layouts: Iterable[CuttingPattern], stage_of: Mapping[str, int]) -> WaitingCount:
    """Counts what waits in layouts whose `stage` counts deliveries 1, 2, 3, ..., as `stage_of` does by piece id.

    A remainder is counted each time it is racked again: after every delivery that cuts something of a board, one
    for its full width, one for each strip begun and one for each pair of which half is cut.
    """
    pieces = piece_stages = remainders = 0
    for layout in layouts:
        for piece in (piece for strip in layout.strips for piece in strip.pieces):
            late = stage_of[piece.id] - layout.stage
            if late > 0:
                pieces += layout.repeat
                piece_stages += late * layout.repeat
        remainders += _racked(layout, stage_of) * layout.repeat
    return WaitingCount(pieces=pieces, piece_stages=piece_stages, remainders=remainders)


def _racked(layout: CuttingPattern, stage_of: Mapping[str, int]) -> int:
    """How often something of a board is racked: a part that is cut at k deliveries is racked k - 1 times."""
    filled = [strip for strip in layout.strips if strip.pieces]

    def due(strip: Strip) -> list[int]:
        return [min(stage_of[piece.id] for piece in slot) for slot in slots_of(strip)]

    count = max(0, len({first_need(strip.pieces, stage_of.__getitem__) for strip in filled}) - 1)
    for strip in filled:
        count += len(set(due(strip))) - 1
        count += sum(len({stage_of[piece.id] for piece in slot}) - 1 for slot in slots_of(strip))
    return count
