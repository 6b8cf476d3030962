"""Last aims on a settled plan, none of which changes its boards or makes more of them wait.

First fewer distinct cut widths at each stage: compression windows let a strip be ripped a little wider where its
board has room, so neighbouring widths become one setting of the fence. Then the largest left-over: strips move
from the emptiest board of a stage into gaps of others, so that what remains is one useful piece, not many slivers.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip

MOST_ROUNDS = 200  # moves for one stage's emptiest board


def _by_stage(demand: Demand, boards: Iterable[OpenBoard]) -> dict[int, list[OpenBoard]]:
    found: dict[int, list[OpenBoard]] = {}
    for board in boards:
        found.setdefault(board.stage(demand), []).append(board)
    return found


def fewer_widths(demand: Demand, boards: list[OpenBoard]) -> None:
    """Widens strips so that each stage is cut to fewer distinct widths, where windows and boards have room.

    From the narrowest: all strips of a width move to the next wider one that they can all reach together.
    """
    for stage_boards in _by_stage(demand, boards).values():
        free = {id(board): board.free_width(demand) for board in stage_boards}
        by_width: dict[int, list[tuple[OpenBoard, OpenStrip, int]]] = {}
        for board in stage_boards:
            for strip in board.strips:
                by_width.setdefault(strip.width, []).append((board, strip, strip.widest(demand)))
        for width in sorted(by_width):
            reach = min(widest for _, _, widest in by_width[width])
            needed: dict[int, int] = {}
            for board, _, _ in by_width[width]:
                needed[id(board)] = needed.get(id(board), 0) + 1
            for wider in sorted(other for other in by_width if width < other <= reach):
                if all(free[key] >= count * (wider - width) for key, count in needed.items()):
                    for key, count in needed.items():
                        free[key] -= count * (wider - width)
                    for _, strip, _ in by_width[width]:
                        strip.width = wider
                    by_width[wider] += by_width.pop(width)
                    break


def larger_left_over(demand: Demand, boards: list[OpenBoard]) -> None:
    """Moves strips between boards of a stage and source so that the emptiest board is left with more."""
    for stage_boards in _by_stage(demand, boards).values():
        by_source: dict[int, list[OpenBoard]] = {}
        for board in stage_boards:
            by_source.setdefault(board.source, []).append(board)
        for alike in by_source.values():
            if len(alike) > 1:
                _empty_one(demand, alike)


def _empty_one(demand: Demand, boards: list[OpenBoard]) -> None:
    kerf = demand.sources[boards[0].source].kerf
    stage = boards[0].stage(demand)
    # what waits stays where it is, or there would be more remainders
    at_once = {id(s) for board in boards for s in board.strips if s.stages(demand)[0] == stage}
    free = [board.free_width(demand) for board in boards]
    target = max(range(len(boards)), key=lambda b: (free[b], -b))
    others = [b for b in range(len(boards)) if b != target and free[b] > 0]
    for _ in range(MOST_ROUNDS):
        best: tuple[int, int, int, OpenStrip, OpenStrip | None] | None = None
        for strip in boards[target].strips:
            if id(strip) not in at_once:
                continue
            for b in others:
                if len(boards[target].strips) > 1 and free[b] >= strip.width + kerf:
                    gain = strip.width + kerf
                    if best is None or (gain, -free[b]) > best[:2]:
                        best = (gain, -free[b], b, strip, None)
                for other in boards[b].strips:
                    if id(other) not in at_once:
                        continue
                    gain = strip.width - other.width
                    if 0 < gain <= free[b] and (best is None or (gain, -free[b]) > best[:2]):
                        best = (gain, -free[b], b, strip, other)
        if best is None:
            return
        gain, _, b, strip, other_strip = best
        boards[target].strips.remove(strip)
        boards[b].strips.append(strip)
        if other_strip is not None:
            boards[b].strips.remove(other_strip)
            boards[target].strips.append(other_strip)
        free[target] += gain
        free[b] -= gain
        others = [b for b in others if free[b] > 0]
