"""Where two runs meet: a butt joint like any other, taped, and counted on the level of the run that joins.

Common practice, no source: the tape is as long as the gap at the joint with a lap at each end, on each taped face.
Where the two runs' gaps differ at their meeting the wider counts, so that the tape covers the joint; lap and faces are
those of the joining run's detail. The tested detail, local code and a licensed practitioner decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from optimiser.kernels.reference.brackets import joint_tape
from optimiser.model.planned_pieces import PlannedJunction, PlannedPiece
from optimiser.model.project import Project
from optimiser.survey.gap_line import GapAlongRun


def junctions_between(project: Project, pieces: Sequence[PlannedPiece]) -> tuple[PlannedJunction, ...]:
    """The junctions with a planned piece on either side, in the order of the joining runs.

    Beside a stretch that is not planned there is no joint, as along a run.
    """
    building = project.building
    first = {piece.run for piece in pieces if piece.from_mm == 0}
    last = {piece.run for piece in pieces if piece.to_mm == building.runs[piece.run].length_mm}
    found = []
    for junction in building.junctions:
        if junction.run not in last or junction.joins not in first:
            continue
        ends = GapAlongRun.of(building.gaps[junction.run]).at(building.runs[junction.run].length_mm)
        begins = GapAlongRun.of(building.gaps[junction.joins]).at(0)
        detail = building.detail_of(junction.run)
        gap = max(ends, begins)
        found.append(
            PlannedJunction(
                run=junction.run,
                joins=junction.joins,
                level=junction.level,
                gap_mm=ceil(gap),
                tape_mm=joint_tape(gap, detail.tape_lap_mm, detail.tape_faces),
            )
        )
    return tuple(found)
