"""Which named piece lies in which place, so that few pieces are carried from the level that cuts them to a later one.

The boards' patterns are settled; pieces of a type are interchangeable but are needed at different stages. Stage
by stage, places of boards already cut are used first, then the boards are opened that hold the most of what the
stage still needs (a greedy cover).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from optimiser.cutting.demand import Demand


@dataclass(frozen=True)
class Place:
    """Room for one piece of a type on a board of a source."""

    kind: int
    source: int


def assign_stages(demand: Demand, boards: list[list[Place]]) -> list[list[int]]:
    """The piece (index into the problem's pieces) in every place of every board, in the order given.

    Every place is filled: the places of a type are as many as its demand.
    """
    pieces = demand.problem.pieces
    waiting: dict[int, dict[int, list[int]]] = {}  # stage -> type -> pieces
    for t, piece_type in enumerate(demand.types):
        for index in reversed(piece_type.members):
            piece = pieces[index]
            waiting.setdefault(piece.stage, {}).setdefault(t, []).extend([index] * piece.quantity)
    result = [[-1] * len(places) for places in boards]
    unopened: dict[int, Counter[int]] = {
        b: Counter(place.kind for place in places) for b, places in enumerate(boards)
    }
    free: dict[int, list[tuple[int, int]]] = {}  # type -> free places on opened boards
    earliest = {
        b: demand.sources[places[0].source].first_stage
        for b, places in enumerate(boards)
        if places and demand.sources[places[0].source].available is not None
    }
    by_kind: dict[int, set[int]] = {}
    for b, kinds in unopened.items():
        for kind in kinds:
            by_kind.setdefault(kind, set()).add(b)
    for stage in sorted(waiting):
        needed = waiting[stage]
        for kind, indices in needed.items():
            spare: list[tuple[int, int]] = free.get(kind, [])
            while indices and spare:
                b, position = spare.pop()
                result[b][position] = indices.pop()
        short = {kind: len(indices) for kind, indices in needed.items() if indices}
        while short:
            b = _best_board(short, unopened, by_kind, earliest, stage)
            kinds = unopened.pop(b)
            for kind in kinds:
                by_kind[kind].discard(b)
            for position, place in enumerate(boards[b]):
                if place.kind in short:
                    result[b][position] = needed[place.kind].pop()
                    short[place.kind] -= 1
                    if not short[place.kind]:
                        del short[place.kind]
                else:
                    free.setdefault(place.kind, []).append((b, position))
    return result


def _best_board(
    short: dict[int, int],
    unopened: dict[int, Counter[int]],
    by_kind: dict[int, set[int]],
    earliest: dict[int, int],
    stage: int,
) -> int:
    """The unopened board with the largest share of places that the stage needs now."""
    rarest = min(short, key=lambda kind: (len(by_kind[kind]), kind))
    best = (-1.0, 0)
    for b in by_kind[rarest]:
        if earliest.get(b, stage) > stage:
            continue
        kinds = unopened[b]
        useful = sum(min(count, short.get(kind, 0)) for kind, count in kinds.items())
        best = max(best, (useful / kinds.total(), -b))
    return -best[1]
