"""A run with everything that stands on it: pieces, joints with their tape, readings, stretches left out."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from optimiser.accessories import joint_tape_mm
from optimiser.gaps import GapAlongRun
from optimiser.plan import PlannedPiece
from optimiser.project import Gap, Run
from optimiser.writing.plan_index import PlanIndex


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
    """A run with everything that stands on it."""

    run: Run
    stretches: tuple[Stretch, ...]
    joints: tuple[Joint, ...]
    gaps: tuple[Gap, ...]
    along: GapAlongRun
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
    detail, along = index.plan.project.detail, GapAlongRun.of(gaps)
    joints = tuple(
        Joint(after.from_mm, joint_tape_mm(detail, along, after.from_mm))
        for before, after in itertools.pairwise(pieces)
        if before.to_mm == after.from_mm
    )
    start = f"{run}-"
    prefix = start if pieces and all(piece.id.startswith(start) for piece in pieces) else ""
    return RunView(table, tuple(stretches), joints, gaps, along, prefix)


def short_id(index: PlanIndex, view: RunView, piece: PlannedPiece) -> str:
    """A piece's id without what all ids of its run begin with."""
    return index.text(piece.id[len(view.prefix) :])
