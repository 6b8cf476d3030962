"""Boards of the plan before that are still right are kept as they are: their labels stay, nobody relearns a sheet.

A board is kept when every piece of it is still open, between the same joints, and its cut width still serves. What
waits in a remainder on the rack is kept likewise: the remainder is then what the board was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimiser.cutting.problem import CuttingPattern, Strip
from optimiser.joints.layout import LaidPiece
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.progress import AtHand
from optimiser.model.project import Project
from optimiser.replanning.job_state import Happened


@dataclass(frozen=True)
class KeptBoard:
    """A board that may be cut as it was planned, under its `number`. `pattern` counts stages as the solver does; its
    `stock` is what is cut: something at hand, or the board's code."""

    number: int
    pattern: CuttingPattern

    @property
    def pieces(self) -> frozenset[str]:
        """The ids of what is cut from it."""
        return frozenset(piece.id for strip in self.pattern.strips for piece in strip.pieces)


def kept_boards(
    plan: Plan, survey: Project, places: Sequence[LaidPiece], state: Happened, at_hand: Sequence[AtHand]
) -> tuple[KeptBoard, ...]:
    """The boards and remainders that stay, in the order in which they are opened."""
    open_now = {place.id: place for place in places}
    before = {piece.id: piece for piece in plan.pieces}
    there = {item.name: item for item in at_hand}
    stage_of = survey.building.stage_of_level
    sizes = plan.project.building.size_of_stock

    def still_right(strips: Iterable[Strip]) -> bool:
        return all(
            (place := open_now.get(cut.id)) is not None and _serves(before[cut.id], place)
            for strip in strips
            for cut in strip.pieces
        )

    def kept(number: int, stock: str, code: str, strips: tuple[Strip, ...]) -> KeptBoard:
        due = min(stage_of[open_now[cut.id].level] for strip in strips for cut in strip.pieces)
        return KeptBoard(number, CuttingPattern(stock=stock, stage=due, strips=strips, code=code))

    found: list[KeptBoard] = []
    following = max({number for number, _ in plan.numbered_layouts} | state.opened, default=0) + 1
    parts = {part.name: part for board in state.boards for part in board.kept}
    for name, strips in sorted(state.waiting.items()):
        item, part = there.get(name), parts.get(name)
        if item is None or part is None or item.size != (part.length_mm, part.width_mm):
            continue  # measured again and found to be of another size, or lost
        if still_right(strips):
            found.append(kept(following, name, item.code, strips))
            following += 1
    for number, layout in plan.numbered_layouts:
        if number in state.opened or not still_right(layout.strips):
            continue
        source = there.get(layout.stock)
        if source is None or source.whole or source.size != sizes[layout.stock]:
            board = survey.building.boards.get(layout.code)
            if board is None or board.size != sizes[layout.stock]:
                continue  # an offcut that is not there any more
            found.append(kept(number, layout.code, layout.code, layout.strips))
        else:
            found.append(kept(number, layout.stock, layout.code, layout.strips))
    return tuple(sorted(found, key=lambda board: (board.pattern.stage, board.number)))


def _serves(piece: PlannedPiece, place: LaidPiece) -> bool:
    """Whether the cut that was planned for a piece still serves its place."""
    if (piece.from_mm, piece.to_mm) != (place.from_mm, place.to_mm) or piece.tapered != place.tapered:
        return False
    if piece.tapered:
        return (piece.cut_width_start_mm, piece.cut_width_end_mm) == (
            place.width_start_mm,
            place.width_end_mm,
        )
    return place.width_min_mm <= piece.cut_width_start_mm <= place.width_max_mm
