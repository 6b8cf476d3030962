"""Which named piece lies in which place, so that few pieces are carried from the level that cuts them to a later one.

The boards' patterns are settled; pieces of a type are interchangeable but are needed at different stages. First
every stage takes the boards that its own pieces can fill alone; nothing on them is carried. Then, stage by stage,
places of boards already cut are used, and the boards opened that hold the most of what the stage still needs (a
greedy cover).
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


@dataclass
class _Alike:
    """Boards with the same places that are not opened yet."""

    kinds: tuple[tuple[int, int], ...]  # type and count
    total: int
    available_from: int
    boards: list[int]


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
    groups = _groups(demand, boards)
    holding: dict[int, list[int]] = {}  # the first type of a group -> groups
    for position, alike in enumerate(groups):
        holding.setdefault(alike.kinds[0][0], []).append(position)
    for stage in sorted(waiting):
        among = sorted(position for kind in waiting[stage] for position in holding.get(kind, ()))
        _fill_alone(waiting[stage], [groups[position] for position in among], boards, stage, result)
    by_kind: dict[int, list[_Alike]] = {}
    for alike in groups:
        for kind, _ in alike.kinds if alike.boards else ():
            by_kind.setdefault(kind, []).append(alike)
    free: dict[int, list[tuple[int, int]]] = {}  # type -> free places on opened boards
    for stage in sorted(waiting):
        needed = waiting[stage]
        for kind, indices in needed.items():
            spare: list[tuple[int, int]] = free.get(kind, [])
            while indices and spare:
                b, position = spare.pop()
                result[b][position] = indices.pop()
        short = {kind: len(indices) for kind, indices in needed.items() if indices}
        while short:
            alike = _best(short, by_kind, stage)
            b = alike.boards.pop()
            if not alike.boards:
                for kind, _ in alike.kinds:
                    by_kind[kind].remove(alike)
            for position, place in enumerate(boards[b]):
                if place.kind in short:
                    result[b][position] = needed[place.kind].pop()
                    short[place.kind] -= 1
                    if not short[place.kind]:
                        del short[place.kind]
                else:
                    free.setdefault(place.kind, []).append((b, position))
    return result


def _fill_alone(
    needed: dict[int, list[int]],
    groups: list[_Alike],
    boards: list[list[Place]],
    stage: int,
    result: list[list[int]],
) -> None:
    """Gives the stage every board that its own pieces fill."""
    for alike in groups:
        while (
            alike.boards
            and alike.available_from <= stage
            and all(len(needed.get(kind, ())) >= count for kind, count in alike.kinds)
        ):
            b = alike.boards.pop()
            for position, place in enumerate(boards[b]):
                result[b][position] = needed[place.kind].pop()


def _groups(demand: Demand, boards: list[list[Place]]) -> list[_Alike]:
    groups: dict[tuple[int, tuple[tuple[int, int], ...]], _Alike] = {}
    for b in reversed(range(len(boards))):
        source = demand.sources[boards[b][0].source]
        available_from = source.first_stage if source.available is not None else -(1 << 30)
        kinds = tuple(sorted(Counter(place.kind for place in boards[b]).items()))
        group = groups.setdefault((available_from, kinds), _Alike(kinds, len(boards[b]), available_from, []))
        group.boards.append(b)
    return list(groups.values())


def _best(short: dict[int, int], by_kind: dict[int, list[_Alike]], stage: int) -> _Alike:
    """The boards with the largest share of places that the stage needs now, among those that hold the type with
    the fewest boards to choose from."""
    rarest = min(short, key=lambda kind: (len(by_kind[kind]), kind))
    best: _Alike | None = None
    best_share = -1.0
    for alike in by_kind[rarest]:
        if alike.available_from > stage:
            continue
        useful = 0
        for kind, count in alike.kinds:
            wanted = short.get(kind, 0)
            useful += count if count < wanted else wanted
        share = useful / alike.total
        if share > best_share:
            best, best_share = alike, share
            if useful == alike.total:
                break
    assert best is not None, "every place of a type is wanted by exactly one piece"
    return best
