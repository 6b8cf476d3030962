"""What a job was supplied with, re-derived from the record, and what its needs are beyond that."""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import pairwise
from math import ceil

from optimiser.checking.building import Building
from optimiser.checking.edges import meetings_of

Line = tuple[str, str]
"""(level, code)."""


def standing(building: Building) -> list[tuple[str, str, int]]:
    """The quantities on record that are not undone: (ordered, delivered or scrapped; code; single units)."""
    events = building.plan.record.events
    undone = {event.undoes for event in events if event.event == "undone"}
    return [
        (event.event, event.code, event.quantity or 0)
        for event in events
        if event.event in ("ordered", "delivered", "scrapped")
        and event.code
        and not (event.id and event.id in undone)
        and not (event.event == "scrapped" and (event.piece or event.board))
    ]


def counted(building: Building, what: str) -> Counter[str]:
    """Single units ordered, delivered or scrapped, by code."""
    found: Counter[str] = Counter()
    for event, code, quantity in standing(building):
        if event == what:
            found[code] += quantity
    return found


def unit(building: Building, code: str) -> int:
    """What one unit of a product is needed in: a roll of tape is so many millimetres."""
    product = building.products[code]
    return product.roll_mm if product.kind == "tape" else 1


def fitted_counts(building: Building) -> dict[Line, int]:
    """Brackets, anchors and tape (in mm) of the pieces that are fitted, and of joints between two of them."""
    found: dict[Line, int] = defaultdict(int)
    anchor, tape = building.first_anchor, building.first_tape
    fitted = [piece for piece in building.plan.pieces if piece.status == "fitted"]
    along: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for piece in fitted:
        along[piece.run].append((piece.from_mm, piece.to_mm))
        if piece.bracket is not None:
            number = len(piece.brackets_at_mm)
            found[piece.level, piece.bracket] += number
            if anchor is not None:
                each = building.detail_of(piece.run).anchors_per_bracket
                found[piece.level, anchor.code] += number * each
    for meeting in meetings_of(building, fitted=True):
        if tape is not None:
            found[meeting.level, tape.code] += meeting.tape_mm
    for run, spans in along.items():
        detail = building.detail_of(run)
        for (_, end), (start, _) in pairwise(sorted(spans)):
            if end == start and tape is not None:
                gap = building.gap_lines[run].at(end)
                length = (ceil(gap) + 2 * detail.tape_lap_mm) * detail.tape_faces
                found[building.runs[run].level, tape.code] += length
    return found


def usable(building: Building, code: str) -> int:
    """What of a product that was ordered may still be planned with (of tape in mm): the most that leaves the allowance
    for breakage and loss on it."""
    ordered = max(counted(building, "ordered")[code], counted(building, "delivered")[code])
    bought = (ordered - counted(building, "scrapped")[code]) * unit(building, code)
    left = bought - used(building, code)
    fraction = building.allowance_of(building.products[code].kind)
    most = max(0, left) * fraction.denominator // (fraction.denominator + fraction.numerator)
    while most > 0 and most + ceil(most * fraction) > left:
        most -= 1
    return most


def used(building: Building, code: str) -> int:
    """What the job has used up of a product: boards opened; brackets, anchors and tape (in mm) that are fitted."""
    if building.products[code].kind == "board":
        return sum(board.bought and board.code == code for board in building.plan.job.cut_boards)
    return sum(number for (_, own), number in fitted_counts(building).items() if own == code)


def beyond_supply(building: Building, needed: dict[Line, int]) -> dict[Line, int]:
    """Of what is needed what must still be ordered: not what is fitted, nor what is at hand, which serves the first
    deliveries first. Boards at hand are cut as such, and are not among the needs."""
    if not building.plan.record.events:
        return needed
    fitted = fitted_counts(building)
    left = {
        product.code: usable(building, product.code)
        for product in building.project.products
        if product.kind != "board"
    }
    found: dict[Line, int] = {}
    for storey in building.levels_in_order:
        for (level, code), number in needed.items():
            if level != storey.level:
                continue
            if code not in left:
                found[level, code] = number
                continue
            number -= fitted.get((level, code), 0)
            taken = min(max(0, number), left[code])
            left[code] -= taken
            found[level, code] = number - taken
    return found
