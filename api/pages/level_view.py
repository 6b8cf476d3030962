"""What the crew sees first: my level, my run, my pieces, and from which board each is cut."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from api.pages.figures import figure
from api.pages.plan_part import PartIndex
from api.pages.words import no_such
from optimiser.boards.cutting_steps import CuttingStep
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Run
from optimiser.model.remainder import Remainder
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.run_view import Joint, RunView, run_view
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.words import place_in_words

STRIP_HEIGHT = 44
_TALLEST = 28


@dataclass(frozen=True)
class StripPiece:
    """A piece (or a stretch that is not planned) in the small picture of a run: its outline's points."""

    id: str
    points: str
    planned: bool


@dataclass(frozen=True)
class RunRow:
    """A run of a level. `place` counts the project's runs from 1."""

    place: int
    run: str
    length_mm: int
    gap_min_mm: int
    gap_max_mm: int
    pieces: int
    joints: int
    mullions: tuple[float, ...]  # where they stand in the picture
    not_planned: int
    nominal: bool
    width: float  # of the picture's 1000, which are the level's longest run
    strip: tuple[StripPiece, ...]


@dataclass(frozen=True)
class StepRow:
    """A board that is opened for a level, or a remainder that is taken from the rack; `number` is its layout's."""

    number: int
    name: str
    code: str
    on_site: bool
    taken: bool
    size: str
    kept_with: str  # of a remainder: the level with which it was racked
    pieces: tuple[str, ...]
    kept: tuple[Remainder, ...]
    left_over: tuple[str, ...]


@dataclass(frozen=True)
class LevelView:
    """A level with everything that is built on it."""

    place: int
    level: str
    needed_on: date | None
    runs: tuple[RunRow, ...]
    pieces: int
    joints: int
    brackets: dict[str, int]
    anchors: int
    tape_mm: int
    opened: tuple[StepRow, ...]
    taken: tuple[StepRow, ...]
    kept: tuple[Remainder, ...]
    from_rack: int  # pieces that are cut from remainders of boards opened earlier
    ready: bool  # all its gaps are measured
    before: tuple[int, str] | None
    after: tuple[int, str] | None


@dataclass(frozen=True)
class PieceRow:
    """A piece as the crew fits it, and where it is cut: the layout's number, the board or remainder it is cut from,
    and its place there."""

    piece: PlannedPiece
    name: str
    layout: int
    taken: str
    place: str


@dataclass(frozen=True)
class RunPage:
    """A run with its pieces."""

    place: int
    run: Run
    level_place: int
    pieces: tuple[PieceRow, ...]
    joints: tuple[Joint, ...]
    not_planned: tuple[str, ...]  # in words
    gap_min_mm: int
    gap_max_mm: int
    view: RunView
    before: tuple[int, str] | None
    after: tuple[int, str] | None


def level_view(index: PlanIndex, place: int) -> LevelView:
    """The level at a place of the delivery order, counted from 1. Raises IndexError when there is none."""
    plan = index.plan
    if not 1 <= place <= len(index.levels):
        raise IndexError(no_such("The building", len(index.levels), "level", place))
    level = index.levels[place - 1]
    here = [(number, run) for number, run in enumerate(plan.project.runs, 1) if run.level == level.level]
    longest = max((run.length_mm for _, run in here), default=1)
    runs = tuple(_run_row(index, number, run, 1000 / longest) for number, run in here)
    counts = plan.counts.get(level.level)
    steps = [step for step in index.sequence.with_delivery(level.sequence) if level.level in step.levels]
    taken = tuple(_step_row(step) for step in steps if step.taken is not None)
    return LevelView(
        place,
        level.level,
        level.needed_on,
        runs,
        sum(run.pieces for run in runs),
        counts.joints if counts else 0,
        {code: counts.brackets[code] for code in index.products if code in counts.brackets} if counts else {},
        counts.anchors if counts else 0,
        counts.tape_mm if counts else 0,
        tuple(_step_row(step) for step in steps if step.taken is None),
        taken,
        tuple(part for step in steps for part in step.kept),
        sum(index.pieces[piece].level == level.level for row in taken for piece in row.pieces),
        level.level not in index.forecast_levels,
        (place - 1, index.levels[place - 2].level) if place > 1 else None,
        (place + 1, index.levels[place].level) if place < len(index.levels) else None,
    )


def _step_row(step: CuttingStep) -> StepRow:
    return StepRow(
        step.layout,
        step.name,
        step.code,
        step.on_site,
        step.taken is not None,
        step.taken.size if step.taken else f"{step.length_mm} x {step.width_mm}",
        step.taken.level if step.taken else "",
        step.pieces,
        step.kept,
        tuple(f"{rest.length_mm} x {rest.width_mm}" for rest in step.left_overs),
    )


def _run_row(index: PlanIndex, number: int, run: Run, along: float) -> RunRow:
    """A run of which a millimetre is drawn `along` wide."""
    view = run_view(index, run.run)
    gaps = [gap.gap_mm for gap in view.gaps]
    scale = _TALLEST / max(gaps)

    def outline(from_mm: int, to_mm: int) -> str:
        inside = [gap.at_mm for gap in view.gaps if from_mm < gap.at_mm < to_mm]
        upper = [from_mm, *inside, to_mm]
        base = STRIP_HEIGHT - 6
        corners = [(at, base - float(view.along.at(at)) * scale) for at in upper]
        corners += [(to_mm, base), (from_mm, base)]
        return " ".join(f"{x * along:.1f},{y:.1f}" for x, y in corners)

    pieces = [stretch.piece for stretch in view.stretches if stretch.piece]
    return RunRow(
        number,
        run.run,
        run.length_mm,
        min(gaps),
        max(gaps),
        len(pieces),
        len(view.joints),
        tuple(round(at * along, 1) for at in run.mullions_mm),
        len(index.not_planned_of_run.get(run.run, ())),
        any(piece.basis == "nominal" for piece in pieces),
        round(run.length_mm * along, 1),
        tuple(
            StripPiece(
                stretch.piece.id if stretch.piece else "not planned",
                outline(stretch.from_mm, stretch.to_mm),
                stretch.piece is not None,
            )
            for stretch in view.stretches
        ),
    )


def run_page(index: PlanIndex, place: int) -> RunPage:
    """The run at a place of the project's runs, counted from 1. Raises IndexError when there is none."""
    runs = index.plan.project.runs
    if not 1 <= place <= len(runs):
        raise IndexError(no_such("The building", len(runs), "run", place))
    run = runs[place - 1]
    view = run_view(index, run.run)
    pieces = [stretch.piece for stretch in view.stretches if stretch.piece]
    cut_at = places_of(index, {piece.id for piece in pieces})
    gaps = [gap.gap_mm for gap in view.gaps]
    return RunPage(
        place,
        run,
        index.level_place[run.level] + 1,
        tuple(
            PieceRow(piece, piece.id.removeprefix(view.prefix), *cut_at.get(piece.id, (0, "", "")))
            for piece in pieces
        ),
        view.joints,
        tuple(place_in_words(place) for place in index.not_planned_of_run.get(run.run, ())),
        min(gaps),
        max(gaps),
        view,
        (place - 1, runs[place - 2].run) if place > 1 else None,
        (place + 1, runs[place].run) if place < len(runs) else None,
    )


def places_of(index: PlanIndex, wanted: set[str]) -> dict[str, tuple[int, str, str]]:
    """Of each wanted piece: its layout's number from 1, the name of the board or remainder it is cut from, and its
    place there."""
    if isinstance(index, PartIndex) and index.cut_at is not None:
        return {piece: place for piece, place in index.cut_at.items() if piece in wanted}
    found: dict[str, tuple[int, str, str]] = {}
    for step in index.sequence.steps:
        if not wanted.isdisjoint(step.pieces):
            for piece in step_cuts(index, step).pieces:
                if piece.id in wanted:
                    found[piece.id] = (step.layout, step.name, piece.place)
    return found


@figure
def levels_of(index: PlanIndex) -> tuple[tuple[int, str, date | None, int, int], ...]:
    """(place, level, needed on, pieces, runs) of every level in delivery order."""
    plan = index.plan
    pieces: dict[str, int] = {}
    for piece in plan.pieces:
        pieces[piece.level] = pieces.get(piece.level, 0) + 1
    return tuple(
        (
            place,
            level.level,
            level.needed_on,
            pieces.get(level.level, 0),
            sum(run.level == level.level for run in plan.project.runs),
        )
        for place, level in enumerate(plan.project.levels_in_order(), 1)
    )
