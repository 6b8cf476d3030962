"""What is paid for boards: whole packs, allowance included, beside what no plan can pay less than."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import packs_of
from optimiser.boards.waiting_count import count_waiting
from optimiser.cutting.problem import CuttingPattern, Waiting
from optimiser.model.planned_boards import BoardCount, PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.remainder import Remainder


def with_packs(project: Project, boards: Mapping[str, BoardCount]) -> dict[str, BoardCount]:
    """The counts with their packs and the bound on packs: packs never fall when boards are more, so the bound on boards
    bounds them. Where a level is nominal its boards are a forecast and their packs follow from simulation: 0 and 0."""
    if forecast_levels(project):
        return dict(boards)
    packs = packs_of(project, {code: count.count for code, count in boards.items()})
    fewest = packs_of(project, {code: count.lower_bound for code, count in boards.items()})
    return {
        code: count.model_copy(update={"packs": packs[code], "lower_bound_packs": fewest[code]})
        for code, count in boards.items()
    }


def what_waits(
    project: Project,
    pieces: Iterable[PlannedPiece],
    layouts: Iterable[PlannedPattern],
    proved: Waiting,
    remainders: Iterable[Remainder] = (),
) -> Waiting:
    """What waits in the plan, counted in deliveries as its sheets have it, with the bound that the cutting proved."""
    building = project.building
    stage_of = {piece.id: building.stage_of_level[piece.level] for piece in pieces}
    ranked = [
        CuttingPattern(
            stock=layout.stock,
            stage=building.stage_of_sequence[layout.sequence],
            repeat=layout.repeat,
            strips=layout.strips,
        )
        for layout in layouts
    ]
    count = count_waiting(ranked, stage_of)
    return proved.model_copy(
        update={
            "pieces": count.pieces,
            "piece_stages": count.piece_stages,
            "remainders": count.remainders,
            "remainder_stages": sum(
                building.stage_of_sequence[part.cut_stage] - building.stage_of_sequence[part.stage]
                for part in remainders
            ),
            "lower_bound_piece_stages": min(proved.lower_bound_piece_stages, count.piece_stages),
        }
    )
