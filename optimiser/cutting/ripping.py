"""In which order a board is ripped and its strips are cut, and what waits in between.

A strip is ripped when its first piece is needed, so strips stand in the order of their first stages; of those ripped
together the one that is used up last stands last. Along a strip the pieces stand in the order of their stages, a
tapered pair in that of its earlier piece. So whatever is not needed yet is one remainder of the board, one of every
strip that is not used up, and the later half of a pair.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard
from optimiser.cutting.problem import CuttingPattern, Waiting


def put_in_order(demand: Demand, boards: Iterable[OpenBoard]) -> None:
    """Sorts strips and the pieces of each strip, a tapered pair staying together, the earlier piece first."""
    pieces = demand.problem.pieces
    for board in boards:
        for strip in board.strips:
            if len(strip.names) == 1 and len(strip.names[0]) == 1:
                continue
            held = [
                (sorted(names, key=lambda index: (pieces[index].stage, index)), kind)
                for kind, names in zip(strip.held, strip.names, strict=True)
            ]
            held.sort(
                key=lambda item: (
                    [pieces[index].stage for index in item[0]],
                    -pieces[item[0][0]].length_mm,
                    item[0],
                )
            )
            strip.names = [names for names, _ in held]
            strip.held = [kind for _, kind in held]
        board.strips.sort(key=lambda strip: (*strip.stages(demand), -strip.width, strip.names))


def waiting_of(layouts: Iterable[CuttingPattern], stage_of: Mapping[str, int]) -> Waiting:
    """What waits in these layouts, with the bound 0. `stage_of`: when each piece is needed, by its id."""
    pieces = piece_stages = remainders = remainder_stages = 0
    for layout in layouts:
        stages = [[stage_of[piece.id] for piece in strip.pieces] for strip in layout.strips]
        if all(stage == layout.stage for strip in stages for stage in strip):
            continue  # nothing of it waits
        late = [stage - layout.stage for strip in stages for stage in strip if stage > layout.stage]
        pieces += layout.repeat * len(late)
        piece_stages += layout.repeat * sum(late)
        lengths = [
            [stage_of[piece.id] for piece in strip.pieces if not piece.head_to_tail]
            for strip in layout.strips
        ]
        pairs = [
            [stage_of[first.id], stage_of[second.id]]
            for strip in layout.strips
            for first, second in pairwise(strip.pieces)
            if second.head_to_tail
        ]
        for wanted in ([strip[0] for strip in stages], *lengths, *pairs):
            remainders += layout.repeat * (len(set(wanted)) - 1)
            remainder_stages += layout.repeat * (max(wanted) - min(wanted))
    return Waiting(
        pieces=pieces, piece_stages=piece_stages, remainders=remainders, remainder_stages=remainder_stages
    )
