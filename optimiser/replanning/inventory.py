"""What is on hand when part of a plan is cut: its pieces, what is left of its boards, and boards not cut yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

from optimiser.boards.families import families_of
from optimiser.cutting.problem import Strip
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.sizes import Size

Rest = tuple[str, int, int]
"""Board code, length and width of a rectangle of board, in mm."""


@dataclass(frozen=True)
class Inventory:
    """`pieces` are cut (with the code of their board); `cut_layouts` are the boards and stock already cut, `rests` how
    many of each size are kept of them, and `cutting_scrap_twice_mm2` twice what is not. `stock_left` says by name how
    many of each row of the stock are not cut; `smallest` by board code what is worth keeping (`smallest_by_code`)."""

    pieces: tuple[tuple[PlannedPiece, str], ...]
    cut_layouts: tuple[PlannedPattern, ...]
    rests: Counter[Rest]
    cutting_scrap_twice_mm2: int
    stock_left: Counter[str]
    smallest: dict[str, Size]


def inventory_of(plan: Plan, cut_levels: Collection[str]) -> Inventory:
    """What is there when the pieces of `cut_levels` are cut and no others.

    A board is cut when any of its pieces is: of its strips only those with such a piece are ripped off, and from
    each only such pieces are cut. What remains is kept when it is as long and wide as the smallest piece of the
    plan for such boards; the rest is scrap.
    """
    project = plan.project
    by_id = {piece.id: piece for piece in plan.pieces}
    cut = {piece.id for piece in plan.pieces if piece.level in cut_levels}
    sizes = project.building.size_of_stock
    smallest = smallest_by_code(plan)
    rests: Counter[Rest] = Counter()
    layouts: list[PlannedPattern] = []
    pieces: list[tuple[PlannedPiece, str]] = []
    twice_scrap = 0
    stock_left = Counter({name: row.quantity for name, row in project.building.stock.items()})
    for layout in plan.layouts:
        here = [by_id[piece.id] for strip in layout.strips for piece in strip.pieces if piece.id in cut]
        if not here:
            continue
        layouts.append(layout)
        pieces += [(piece, layout.code) for piece in here]
        if layout.stock in stock_left:
            stock_left[layout.stock] -= layout.repeat
        size, kerf = sizes[layout.stock], project.building.cutting_rules_of(layout.code).kerf_mm
        kept = [rest for rest in _rests(layout, size, kerf, cut) if rest.holds(smallest[layout.code])]
        for rest in kept:
            rests[layout.code, *rest] += layout.repeat
        twice_scrap += 2 * layout.repeat * (size.area_mm2 - sum(rest.area_mm2 for rest in kept))
        twice_scrap -= layout.repeat * sum(piece.twice_area_mm2 for piece in here)
    return Inventory(tuple(pieces), tuple(layouts), rests, twice_scrap, stock_left, smallest)


def smallest_by_code(plan: Plan) -> dict[str, Size]:
    """By board code the least length and the least width of any piece of the boards that are cut together."""
    found: dict[str, Size] = {}
    for codes in families_of(plan.project.runs):
        pieces = [piece for piece in plan.pieces if not set(codes).isdisjoint(piece.boards)]
        least = Size(
            min((piece.length_mm for piece in pieces), default=1),
            min((piece.width_min_mm for piece in pieces), default=1),
        )
        found |= dict.fromkeys(codes, least)
    return found


def _rests(layout: PlannedPattern, size: Size, kerf: int, cut: Collection[str]) -> list[Size]:
    """The rectangles left of one board when only the pieces in `cut` are cut from it."""
    ripped = [strip for strip in layout.strips if any(piece.id in cut for piece in strip.pieces)]
    found = [Size(size.length_mm, size.width_mm - sum(strip.width_mm + kerf for strip in ripped))]
    found += [Size(size.length_mm - _cut_mm(strip, kerf, cut), strip.width_mm) for strip in ripped]
    return [rest for rest in found if min(rest) > 0]


def _cut_mm(strip: Strip, kerf: int, cut: Collection[str]) -> int:
    """The length cut off a strip: a tapered pair goes together when either of its two pieces is cut."""
    lengths: list[tuple[int, bool]] = []
    for piece in strip.pieces:
        if piece.head_to_tail and lengths:
            lengths[-1] = lengths[-1][0], lengths[-1][1] or piece.id in cut
        else:
            lengths.append((piece.length_mm, piece.id in cut))
    return sum(length + kerf for length, is_cut in lengths if is_cut)
