"""What is cut when: each board opened at its first delivery, ripped so far as that needs, and racked again.

Nothing is cut before its delivery. What a later delivery needs stays in a remainder, which has a name, and is
cut again when that delivery is due, until the board is used up. Every step accounts for all of its area:
what is taken = pieces + remainders + left-overs + kerf + scrap, to the mm2.
(Keeping partly cut objects for later periods: Arenales, Cherri, do Nascimento and Vianna, Pesquisa Operacional
35, 2015.)
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from optimiser.boards.board_cut import BoardCut
from optimiser.boards.cutting_steps import CuttingSequence, CuttingStep
from optimiser.boards.delivery_order import in_delivery_order
from optimiser.boards.plan_lookup import PieceOfLevel, PlanLookup, SizeLeft
from optimiser.model.planned_boards import PlannedPattern, numbered
from optimiser.model.project import Project
from optimiser.model.staging import DeliverySequence


def cutting_sequence(
    project: Project,
    pieces: Iterable[PieceOfLevel],
    layouts: Sequence[PlannedPattern],
    left_over: Iterable[SizeLeft] = (),
    *,
    highest_number: int = 0,
) -> CuttingSequence:
    """The steps in which a plan's layouts are cut; `left_over` are the sizes that are kept of what is over. Where
    `layouts` are some of a plan's, `highest_number` is the highest that any of it has.

    A layout is cut in the order of delivery, also where its strips do not stand so. Boards are named after their
    layout's number: B017 is the 17th's, S017 one that was on site; of several alike the others are B017.2, .3.
    A board is opened with the first delivery that needs it. Raises KeyError for a piece or a stock that the plan
    does not have.
    """
    on_site = project.building.stock
    lookup = PlanLookup.of(project, pieces, left_over)
    highest = max((highest_number, *(number for number, _ in numbered(layouts))))
    steps: list[CuttingStep] = []
    for number, layout in numbered(layouts):

        def due(piece: str, came: DeliverySequence = layout.sequence) -> int:
            return max(came, lookup.stage_of[piece])

        in_order = in_delivery_order(layout, due)
        for copy in range(1, layout.repeat + 1):
            name = board_name(project, layout, number, highest, copy)
            steps += BoardCut(
                lookup,
                in_order,
                number,
                name,
                layout.stock in on_site,
                project.building.size_of_stock[layout.stock],
                project.building.cutting_rules_of(layout.code or layout.stock).kerf_mm,
            ).steps()
    steps.sort(key=lambda step: (step.stage, step.taken is not None))
    return CuttingSequence(tuple(steps))


def board_name(
    project: Project, layout: PlannedPattern, number: int, highest_number: int, copy: int = 1
) -> str:
    """What is written on a board of the layout with this number, in a plan with such a highest one: B017; on stock of
    the table S017; a remainder keeps the name that it has. `copy` counts the boards of one layout."""
    row = project.building.stock.get(layout.stock)
    digits = max(3, len(str(highest_number)))
    more = f".{copy}" if copy > 1 else ""
    if row is None or (row.name and row.size == project.building.boards[row.code].size):
        return f"B{number:0{digits}d}{more}"
    return layout.stock if row.name else f"S{number:0{digits}d}{more}"
