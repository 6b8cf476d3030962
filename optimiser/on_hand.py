"""What is on hand when part of a plan is cut: its pieces, what is left of its boards, and boards not cut yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

from optimiser.cutting.problem import Layout, Strip
from optimiser.cutting_stages import families_of, stock_rows, stock_sizes
from optimiser.plan import Plan, PlannedPiece
from optimiser.remainders import Size

Rest = tuple[str, int, int]
"""Board code, length and width of a rectangle of board, in mm."""


@dataclass(frozen=True)
class OnHand:
    """`pieces` are cut (with the code of their board); `cut_layouts` are the boards and stock already cut, and
    `rests` what is kept of them; `cutting_scrap_mm2` what is not. `stock_left` are rows of the stock by name."""

    pieces: tuple[tuple[PlannedPiece, str], ...]
    cut_layouts: tuple[Layout, ...]
    rests: Counter[Rest]
    cutting_scrap_twice_mm2: int
    stock_left: Counter[str]
    smallest: dict[str, Size]


def on_hand(plan: Plan, cut_levels: Collection[str]) -> OnHand:
    """What is there when the pieces of `cut_levels` are cut and no others.

    A board is cut when any of its pieces is: of its strips only those with such a piece are ripped off, and from
    each only such pieces are cut. What remains is kept when it is as long and wide as the smallest piece of the
    plan for such boards; the rest is scrap.
    """
    project = plan.project
    by_id = {piece.id: piece for piece in plan.pieces}
    cut = {piece.id for piece in plan.pieces if piece.level in cut_levels}
    size_of, kerf = stock_sizes(project), project.detail.kerf_mm
    smallest = smallest_by_code(plan)
    rests: Counter[Rest] = Counter()
    layouts: list[Layout] = []
    pieces: list[tuple[PlannedPiece, str]] = []
    twice_scrap = 0
    stock_left = Counter({name: row.quantity for name, row in stock_rows(project).items()})
    for layout in plan.layouts:
        here = [by_id[piece.id] for strip in layout.strips for piece in strip.pieces if piece.id in cut]
        if not here:
            continue
        layouts.append(layout)
        pieces += [(piece, layout.code) for piece in here]
        if layout.stock in stock_left:
            stock_left[layout.stock] -= layout.repeat
        length, width = size_of(layout)
        kept = [
            (rest, across)
            for rest, across in _rests(layout, (length, width), kerf, cut)
            if rest >= smallest[layout.code][0] and across >= smallest[layout.code][1]
        ]
        for rest, across in kept:
            rests[layout.code, rest, across] += layout.repeat
        twice_scrap += 2 * layout.repeat * (length * width - sum(rest * across for rest, across in kept))
        twice_scrap -= layout.repeat * sum(twice_area_mm2(piece) for piece in here)
    return OnHand(tuple(pieces), tuple(layouts), rests, twice_scrap, stock_left, smallest)


def twice_area_mm2(piece: PlannedPiece) -> int:
    """Twice a piece's area: a tapered one's mean width may be half a millimetre."""
    return piece.length_mm * (piece.cut_width_start_mm + piece.cut_width_end_mm)


def smallest_by_code(plan: Plan) -> dict[str, Size]:
    """By board code the least length and the least width of any piece of the boards that are cut together."""
    found: dict[str, Size] = {}
    for codes in families_of(plan.project.runs):
        sizes = [(p.length_mm, p.width_min_mm) for p in plan.pieces if not set(codes).isdisjoint(p.boards)]
        least = min((size[0] for size in sizes), default=1), min((size[1] for size in sizes), default=1)
        found |= dict.fromkeys(codes, least)
    return found


def _rests(layout: Layout, size: Size, kerf: int, cut: Collection[str]) -> list[Size]:
    """The rectangles left of one board when only the pieces in `cut` are cut from it."""
    length, width = size
    ripped = [strip for strip in layout.strips if any(piece.id in cut for piece in strip.pieces)]
    found = [(length, width - sum(strip.width_mm + kerf for strip in ripped))]
    found += [(length - _cut_mm(strip, kerf, cut), strip.width_mm) for strip in ripped]
    return [(rest, across) for rest, across in found if rest > 0 and across > 0]


def _cut_mm(strip: Strip, kerf: int, cut: Collection[str]) -> int:
    """The length cut off a strip: a tapered pair goes together when either of its two pieces is cut."""
    lengths: list[tuple[int, bool]] = []
    for piece in strip.pieces:
        if piece.head_to_tail and lengths:
            lengths[-1] = lengths[-1][0], lengths[-1][1] or piece.id in cut
        else:
            lengths.append((piece.length_mm, piece.id in cut))
    return sum(length + kerf for length, is_cut in lengths if is_cut)
