"""What each run takes, and what is opened, cut and kept for each level."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex


@dataclass(frozen=True)
class RunAccount:
    """A run: how much of its edge is planned, and what it takes."""

    level: str
    run: str
    length_mm: int
    planned_mm: int
    boards: str
    pieces: int
    brackets: int
    notches: int


def run_accounts(plan: Plan) -> tuple[RunAccount, ...]:
    """The runs in their table's order."""
    index = PlanIndex(plan)
    found = []
    for run in plan.project.runs:
        pieces = index.pieces_of_run.get(run.run, ())
        found.append(
            RunAccount(
                level=run.level,
                run=run.run,
                length_mm=run.length_mm,
                planned_mm=sum(piece.length_mm for piece in pieces),
                boards=" ".join(run.board),
                pieces=len(pieces),
                brackets=sum(len(piece.brackets_at_mm) for piece in pieces),
                notches=sum(len(piece.notches_at_mm) for piece in pieces),
            )
        )
    return tuple(found)


@dataclass(frozen=True)
class LevelAccount:
    """A level: its day, what is opened for its cutting by board code, what is taken from the rack and kept on it, and
    what it takes. What is cut for levels that come together stands with the first of them."""

    level: str
    needed_on: date | None
    firmness: str
    opened: Mapping[str, int]
    on_site: int
    taken: int
    kept: int
    pieces: int
    joints: int
    anchors: int
    tape_mm: int


def level_accounts(plan: Plan) -> tuple[LevelAccount, ...]:
    """The levels in delivery order."""
    index = PlanIndex(plan)
    status = {level.level: level.status for level in plan.levels}
    found, done = [], set()
    for level in index.levels:
        steps = () if level.sequence in done else index.sequence.with_delivery(level.sequence)
        done.add(level.sequence)
        counts = plan.counts.get(level.level)
        found.append(
            LevelAccount(
                level=level.level,
                needed_on=level.needed_on,
                firmness=status.get(level.level, ""),
                opened=Counter(step.code for step in steps if step.taken is None and not step.on_site),
                on_site=sum(step.taken is None and step.on_site for step in steps),
                taken=sum(step.taken is not None for step in steps),
                kept=sum(len(step.kept) for step in steps),
                pieces=sum(piece.level == level.level for piece in plan.pieces),
                joints=counts.joints if counts else 0,
                anchors=counts.anchors if counts else 0,
                tape_mm=counts.tape_mm if counts else 0,
            )
        )
    return tuple(found)
