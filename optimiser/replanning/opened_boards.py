"""What an opened board was cut to, and what that leaves of it on the rack."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet

from optimiser.boards.delivery_order import first_need, slots_of
from optimiser.cutting.problem import Strip
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.progress import CutBoard, Part
from optimiser.model.remainder import Remainder
from optimiser.model.sizes import Size


def opened_board(
    plan: Plan,
    number: int,
    name: str,
    layout: PlannedPattern,
    pieces: dict[str, PlannedPiece],
    cut: AbstractSet[str],
    named: Sequence[Remainder],
    least: Size,
) -> tuple[CutBoard, dict[str, tuple[Strip, ...]]]:
    """An opened board: ripped until the last delivery that a cut piece of it belongs to, and what that leaves; with the
    strips that the plan still cuts from each remainder.

    `named` are the plan's remainders of this board; `least` is the plan's `least_piece`.
    """
    project, kerf = plan.project, plan.project.building.cutting_rules_of(layout.code).kerf_mm
    size = project.building.size_of_stock[layout.stock]

    def due(piece: str) -> int:
        return max(layout.sequence, project.building.sequence_of_level[pieces[piece].level])

    here = [piece.id for strip in layout.strips for piece in strip.pieces if piece.id in cut]
    until = max(due(piece) for piece in here)
    kept: list[Part] = []
    waiting: dict[str, tuple[Strip, ...]] = {}

    def keep(length: int, width: int, *strips: Strip) -> None:
        known = next(
            (
                part.name
                for part in named
                if (part.length_mm, part.width_mm) == (length, width)
                and part.name not in {one.name for one in kept}
            ),
            None,
        )
        free = (f"{name}-R{k}" for k in range(1, 10_000))
        taken = {part.name for part in named} | {one.name for one in kept}
        part = known or next(one for one in free if one not in taken)
        kept.append(Part(name=part, length_mm=length, width_mm=width))
        if strips:
            waiting[part] = strips

    done: list[str] = []
    later: list[Strip] = []
    free = size.width_mm
    for strip in layout.strips:
        if not strip.pieces:
            continue
        if first_need(strip.pieces, due) > until and not any(p.id in cut for p in strip.pieces):
            later.append(strip)
            continue
        free -= strip.width_mm + min(kerf, free - strip.width_mm)
        left = size.length_mm
        slots = slots_of(strip)
        last = max((k for k, slot in enumerate(slots) if any(p.id in cut for p in slot)), default=-1)
        for slot in slots[: last + 1]:
            length = slot[0].length_mm
            left -= length + min(kerf, left - length)
            if any(piece.id in cut for piece in slot):
                done += [piece.id for piece in slot]
            elif Size(length, strip.width_mm).holds(least):
                keep(length, strip.width_mm, strip.model_copy(update={"pieces": slot}))
        rest = tuple(piece for slot in slots[last + 1 :] for piece in slot)
        if left > 0 and (rest or Size(left, strip.width_mm).holds(least)):
            keep(left, strip.width_mm, *([strip.model_copy(update={"pieces": rest})] if rest else ()))
    if free > 0 and (later or Size(size.length_mm, free).holds(least)):
        keep(size.length_mm, free, *later)
    whole = {item.name for item in plan.job.at_hand if item.whole}
    bought = layout.stock in whole or layout.stock not in project.building.stock
    twice = sum(pieces[piece].twice_area_mm2 for piece in done)
    kept_mm2 = sum(part.length_mm * part.width_mm for part in kept)
    board = CutBoard(
        number=number,
        name=name,
        source=layout.code if bought else layout.stock,
        code=layout.code,
        bought=bought,
        length_mm=size.length_mm,
        width_mm=size.width_mm,
        pieces=tuple(done),
        kept=tuple(kept),
        twice_pieces_mm2=twice,
        scrap_mm2=(2 * (size.area_mm2 - kept_mm2) - twice) // 2,
    )
    return board, waiting


def least_piece(pieces: Iterable[PlannedPiece]) -> Size:
    """The least length and width of any piece: anything smaller is scrap."""
    sizes = [(piece.length_mm, piece.width_min_mm) for piece in pieces]
    return Size(
        min((length for length, _ in sizes), default=1), min((width for _, width in sizes), default=1)
    )
