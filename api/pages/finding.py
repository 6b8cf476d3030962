"""Where a piece, run, board, remainder or level of a plan is, by any part of its name."""

from __future__ import annotations

from dataclasses import dataclass

from api.pages.figures import figure
from api.pages.words import count, from_to
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.shapes import without_control_characters

MOST = 200
_FIELD, _LINE = "\x1f", "\x1e"  # the separators of a unit and of a record (ISO 646)


@dataclass(frozen=True)
class Found:
    """One thing: what it is, its name, what is said of it, and its address within the plan's."""

    what: str
    name: str
    says: str
    address: str


def find(plan: Plan | PlanIndex, wanted: str) -> tuple[tuple[Found, ...], int]:
    """What has every word of `wanted` in its name, capitals aside: at most MOST, exact names first; and how many there
    are in all. Nothing is found for no word."""
    words = wanted.casefold().split()
    if not words:
        return (), 0
    lines = (line.split(_FIELD) for line in names_of(plan).split(_LINE) if line)
    hits = [Found(*line) for line in lines if all(word in line[1].casefold() for word in words)]
    exact = wanted.strip().casefold()
    hits.sort(key=lambda found: found.name.casefold() != exact)
    return tuple(hits[:MOST]), len(hits)


@figure
def names_of(index: PlanIndex) -> str:
    """All that can be found in a plan, from its levels to its pieces: a line each, parted by control characters, which
    are quicker to search than they are to read."""
    return _LINE.join(
        _FIELD.join(without_control_characters(text) for text in (one.what, one.name, one.says, one.address))
        for one in _all(index)
    )


def _all(index: PlanIndex) -> list[Found]:
    plan = index.plan
    forecast = dict.fromkeys(index.forecast_levels, "; a forecast")
    levels = [
        Found(
            "level",
            level.level,
            f"needed {level.needed_on or 'on no day'}{forecast.get(level.level, '')}",
            f"/levels/{place}",
        )
        for place, level in enumerate(index.levels, 1)
    ]
    place_of = {run.run: place for place, run in enumerate(plan.project.runs, 1)}
    runs = [
        Found(
            "run",
            run.run,
            f"level {run.level}, {run.length_mm:,} mm{forecast.get(run.level, '')}",
            f"/runs/{place_of[run.run]}",
        )
        for run in plan.project.runs
    ]
    boards, remainders = [], []
    cut_from: dict[str, str] = {}
    for step in index.sequence.steps:
        address = f"/boards/{step.layout}"
        if step.taken is None:
            says = f"{step.code}, opened with level {step.levels[0]}, {count(len(step.pieces), 'piece')} then"
            boards.append(Found("board", step.name, says, address))
        for part in step.kept:
            says = f"{part.size} mm, kept with level {step.levels[0]}, waits for {part.waits_for}"
            remainders.append(Found("remainder", part.name, says, address))
        cut_from.update((piece, step.name) for piece in step.pieces)
    pieces = [
        Found(
            "piece",
            piece.id,
            f"{piece.length_mm} mm long, {_width(index, piece)}"
            + (f", from {cut_from[piece.id]}" if piece.id in cut_from else ""),
            f"/runs/{place_of[piece.run]}#{piece.id}",
        )
        for piece in plan.pieces
    ]
    return [*levels, *runs, *boards, *remainders, *pieces]


def _width(index: PlanIndex, piece: PlannedPiece) -> str:
    """'cut 165 mm', 'cut 165 to 171 mm'; of a forecast level 'nominal 165 mm, not ready to cut'."""
    wide = f"{from_to(*sorted((piece.cut_width_start_mm, piece.cut_width_end_mm)))} mm"
    if piece.level in index.forecast_levels and not piece.done:
        return f"nominal {wide}, not ready to cut"
    return f"cut {wide}"
