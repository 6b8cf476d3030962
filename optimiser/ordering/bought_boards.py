"""Bought boards by the level that they are delivered for."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.model.needs import LevelNeeds
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project


def bought_by_level(
    project: Project, pieces: Sequence[PlannedPiece], layouts: Sequence[PlannedPattern]
) -> LevelNeeds:
    """Bought boards by the level that they are delivered for, and by code.

    A board comes with its stage's delivery: for the first level of that sequence (in the table's order) that
    one of its pieces belongs to, or simply the first of that sequence.
    """
    on_site = project.building.stock
    level_of = {piece.id: piece.level for piece in pieces}
    together = project.building.delivered_together
    bought: dict[str, dict[str, int]] = {}
    for layout in layouts:
        if layout.stock in on_site:
            continue
        served = {level_of[piece.id] for strip in layout.strips for piece in strip.pieces}
        levels = together[layout.sequence]
        level_name = next((name for name in levels if name in served), levels[0])
        here = bought.setdefault(level_name, {})
        here[layout.code] = here.get(layout.code, 0) + layout.repeat
    return LevelNeeds(bought)
