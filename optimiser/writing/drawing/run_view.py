"""A run with everything that stands on it: pieces, joints with their tape, readings, stretches left out."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from optimiser.model.planned_pieces import MovedBracket, PlannedJunction, PlannedPiece
from optimiser.model.project import Gap, Run
from optimiser.survey.gap_line import GapAlongRun
from optimiser.takeoff.brackets import joint_tape_mm
from optimiser.writing.drawing.plan_index import PlanIndex


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a run from joint to joint: a piece, or a stretch that cannot be built as it stands."""

    from_mm: int
    to_mm: int
    piece: PlannedPiece | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Joint:
    """A butt joint between two pieces, and how much tape it takes over all taped faces."""

    at_mm: int
    tape_mm: int


@dataclass(frozen=True, slots=True)
class RunView:
    """A run with everything that stands on it.

    `ends_at` is the taped joint with the run that it joins, `begins_at` the one with the run that joins it: that one is
    counted with the other run. None: the run's end is open there. `moved` are the brackets that stand farther than the
    detail says.
    """

    run: Run
    stretches: tuple[Stretch, ...]
    joints: tuple[Joint, ...]
    gaps: tuple[Gap, ...]
    along: GapAlongRun
    ends_at: PlannedJunction | None
    begins_at: PlannedJunction | None
    moved: tuple[MovedBracket, ...]
    prefix: str  # what all piece ids begin with; drawings leave it off


def run_view(index: PlanIndex, run: str) -> RunView:
    """Everything that stands on a run. Raises KeyError when the project has no such run."""
    table = index.runs.get(run)
    if table is None:
        raise KeyError(f"the project has no run {run}")
    pieces = index.pieces_of_run.get(run, ())
    gaps = index.gaps_of_run[run]
    stretches = [Stretch(piece.from_mm, piece.to_mm, piece) for piece in pieces]
    stretches += [
        Stretch(place.from_mm, place.to_mm, None, place.reason)
        for place in index.not_planned_of_run.get(run, ())
        if place.what == "piece"
    ]
    stretches.sort(key=lambda stretch: stretch.from_mm)
    detail, along = index.plan.project.building.detail_of(run), GapAlongRun.of(gaps)
    joints = tuple(
        Joint(after.from_mm, joint_tape_mm(detail, along, after.from_mm))
        for before, after in itertools.pairwise(pieces)
        if before.to_mm == after.from_mm
    )
    start = f"{run}-"
    prefix = start if pieces and all(piece.id.startswith(start) for piece in pieces) else ""
    ends_at = next((one for one in index.plan.junctions if one.run == run), None)
    begins_at = next((one for one in index.plan.junctions if one.joins == run), None)
    moved = tuple(one for one in index.plan.brackets_moved if one.run == run)
    return RunView(table, tuple(stretches), joints, gaps, along, ends_at, begins_at, moved, prefix)


def junction_words(index: PlanIndex, view: RunView) -> tuple[str, ...]:
    """What a run meets at its end and at its start, and what the joint takes; nothing of open ends."""
    found = []
    if view.ends_at is not None:
        taped = f", tape {view.ends_at.tape_mm}" if view.ends_at.tape_mm else ""
        found.append(
            f"taped joint with {index.text(view.ends_at.joins)} at its end (gap {view.ends_at.gap_mm}{taped})"
        )
    if view.begins_at is not None:
        found.append(f"{index.text(view.begins_at.run)} ends at its start, and that joint is taped there")
    return tuple(found)


def short_id(index: PlanIndex, view: RunView, piece: PlannedPiece) -> str:
    """A piece's id without what all ids of its run begin with."""
    return index.text(piece.id[len(view.prefix) :])
