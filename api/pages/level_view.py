"""What the crew sees first: my level, my run, my pieces, and from which board each is cut."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from optimiser.plan import Plan, PlannedPiece
from optimiser.project import Run
from optimiser.writing.board_cuts import board_cuts
from optimiser.writing.plan_index import PlanIndex
from optimiser.writing.run_view import Joint, RunView, run_view
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
class BoardLink:
    """A layout that yields pieces of a level; `number` counts the plan's layouts from 1."""

    number: int
    code: str
    repeat: int
    on_site: bool
    level: str
    pieces_here: int


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
    boards: tuple[BoardLink, ...]
    ahead: int  # pieces that were cut with earlier deliveries
    before: tuple[int, str] | None
    after: tuple[int, str] | None


@dataclass(frozen=True)
class PieceRow:
    """A piece as the crew fits it, and where it is cut: the layout's number and the place on its board."""

    piece: PlannedPiece
    name: str
    layout: int
    place: str
    from_level: str


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
        raise IndexError(f"The building has {len(index.levels)} levels; there is no level {place}.")
    level = index.levels[place - 1]
    here = [(number, run) for number, run in enumerate(plan.project.runs, 1) if run.level == level.level]
    longest = max((run.length_mm for _, run in here), default=1)
    runs = tuple(_run_row(index, number, run, 1000 / longest) for number, run in here)
    counts = plan.counts.get(level.level)
    boards = tuple(_boards_for(index, level.level))
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
        boards,
        sum(board.pieces_here for board in boards if board.level != level.level),
        (place - 1, index.levels[place - 2].level) if place > 1 else None,
        (place + 1, index.levels[place].level) if place < len(index.levels) else None,
    )


def _boards_for(index: PlanIndex, level: str) -> list[BoardLink]:
    found = []
    for number, layout in enumerate(index.plan.layouts, 1):
        here = sum(index.pieces[piece.id].level == level for strip in layout.strips for piece in strip.pieces)
        if here:
            found.append(
                BoardLink(
                    number,
                    layout.code or layout.stock,
                    layout.repeat,
                    index.is_offcut(layout),
                    index.level_of(layout),
                    here,
                )
            )
    return found


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
        raise IndexError(f"The building has {len(runs)} runs; there is no run {place}.")
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
    """Of each wanted piece: its layout's number from 1, its place on the board, the board's level."""
    found: dict[str, tuple[int, str, str]] = {}
    for number, layout in enumerate(index.plan.layouts, 1):
        if wanted.isdisjoint(piece.id for strip in layout.strips for piece in strip.pieces):
            continue
        cuts = board_cuts(index, layout)
        for strip in cuts.strips:
            for piece in strip.pieces:
                if piece.id in wanted:
                    found[piece.id] = (number, piece.place, cuts.level)
    return found


def levels_of(plan: Plan) -> tuple[tuple[int, str, date | None, int, int], ...]:
    """(place, level, needed on, pieces, runs) of every level in delivery order."""
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
