"""The brackets that stand farther than the detail says, in words: one by one, or run by run."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import MovedBracket, PlannedPiece
from optimiser.tables.text import counted


def moved_brackets_in_words(plan: Plan) -> list[str]:
    """Each of the brackets that stand farther than the detail says: where, by how much, and what would mend it."""
    pieces = _pieces(plan)
    return [f"run {moved.run}, {_in_words(moved, pieces)}" for moved in plan.brackets_moved]


def moved_brackets_by_run(plan: Plan) -> list[str]:
    """The same in a line a run, that with the most of them first: how many, by how much, and the farthest of them."""
    pieces = _pieces(plan)
    by_run: dict[str, list[MovedBracket]] = {}
    for moved in plan.brackets_moved:
        by_run.setdefault(moved.run, []).append(moved)
    told = []
    for run, here in sorted(by_run.items(), key=lambda item: -len(item[1])):
        farthest = max(here, key=lambda moved: moved.by_mm)
        least = min(moved.by_mm for moved in here)
        by = f"{least}" if least == farthest.by_mm else f"{least} to {farthest.by_mm}"
        many = (
            f": {counted(len(here), 'bracket')}, {by} mm too far; the farthest at" if len(here) > 1 else ","
        )
        told.append(f"run {run}{many} {_in_words(farthest, pieces)}")
    return told


def _pieces(plan: Plan) -> Mapping[str, PlannedPiece]:
    return {piece.id: piece for piece in plan.pieces} if plan.brackets_moved else {}


def _in_words(moved: MovedBracket, pieces: Mapping[str, PlannedPiece]) -> str:
    """'1200 mm (piece L01-N-002): 330 mm from the end of its piece, 30 mm too far; ...' and what would mend it."""
    end = "start" if moved.from_start(pieces.get(moved.piece)) else "end"
    of = f"the {end} of its piece" if moved.beyond == "end distance" else "the bracket before it"
    return (
        f"{moved.at_mm} mm (piece {moved.piece}): {moved.distance_mm} mm from {of}, {moved.by_mm} mm too far;"
        f" {moved.mend}"
    )
