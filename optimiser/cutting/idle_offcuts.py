"""Offcuts that save nothing stay on the shelf: what lies on them goes where bought boards have room."""

from __future__ import annotations

from optimiser.cutting.demand import Demand
from optimiser.cutting.open_boards import OpenBoard, OpenStrip


def without_idle_offcuts(demand: Demand, boards: list[OpenBoard]) -> list[OpenBoard]:
    """The boards without the offcuts whose strips all find room on bought boards, the largest offcuts first."""
    bought = [board.copied() for board in boards if demand.sources[board.source].available is None]
    offcuts = [board for board in boards if demand.sources[board.source].available is not None]
    kept: list[OpenBoard] = []
    for offcut in sorted(offcuts, key=lambda board: -_area(demand, board)):
        places = _places(demand, offcut, bought)
        if places is None:
            kept.append(offcut)
            continue
        for strip, board in places:
            board.strips.append(strip)
    return bought + kept


def _area(demand: Demand, board: OpenBoard) -> int:
    return demand.sources[board.source].length * demand.sources[board.source].width


def _places(
    demand: Demand, offcut: OpenBoard, bought: list[OpenBoard]
) -> list[tuple[OpenStrip, OpenBoard]] | None:
    """For each strip of an offcut the bought board with the least room that takes it; None where one finds none."""
    found: list[tuple[OpenStrip, OpenBoard]] = []
    for strip in sorted(offcut.strips, key=lambda strip: -strip.width):
        best: OpenBoard | None = None
        least = 0
        for board in bought:
            added = [other for other, place in found if place is board]
            kerf = demand.sources[board.source].kerf
            free = board.free_width(demand) - sum(other.width + kerf for other in added)
            if free < strip.width + kerf or (best is not None and free >= least):
                continue
            if may_hold(demand, board, strip, added):
                best, least = board, free
        if best is None:
            return None
        found.append((strip, best))
    return found


def may_hold(
    demand: Demand, board: OpenBoard, strip: OpenStrip, added: list[OpenStrip] | None = None
) -> bool:
    """Whether a board may take a strip whatever its width: by its length, its code and the limit on carrying, beside
    its own strips and those that are to be `added`."""
    source = demand.sources[board.source]
    pieces = [demand.problem.pieces[names[0]] for names in strip.names]
    if sum(piece.length_mm + source.kerf for piece in pieces) > source.length + source.kerf:
        return False
    everything = [demand.problem.pieces[i] for names in strip.names for i in names]
    if any(piece.boards and source.code not in piece.boards for piece in everything):
        return False
    carry = demand.problem.max_carry_stages
    beside = [*board.strips, *(added or ())]
    if carry is None or not beside:
        return True
    stages = [held.stages(demand) for held in [strip, *beside]]
    return bool(max(last for _, last in stages) - min(first for first, _ in stages) <= carry)
