"""A plan whose job has begun, from its excerpts: of its large tables only what the record says something of.

What was recorded before a plan was made for the rest of a job is in that plan already, so that what a page must read
grows with what happened since, and not with the building.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from api.pages.boards_view import layout_numbers
from api.pages.figures import figure
from api.pages.kept_plan import Kept, KeptPlan
from api.pages.plan_part import PlanPart, name_of_layout, name_of_run
from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.model.record import Event, Record, board_number
from optimiser.reading.plan_names import PlanNames
from optimiser.writing.drawing.plan_index import PlanIndex

_OF_PIECES = ("cut", "fitted", "inspected", "kept", "scrapped")


@figure
def piece_places(index: PlanIndex) -> dict[str, tuple[int, int]]:
    """By piece the place of its run in the project, from 1, and the number of its layout, 0 where it has none."""
    layout_of = {
        piece.id: number
        for number, layout in index.plan.numbered_layouts
        for strip in layout.strips
        for piece in strip.pieces
    }
    place = {run.run: number for number, run in enumerate(index.plan.project.runs, 1)}
    return {piece.id: (place[piece.run], layout_of.get(piece.id, 0)) for piece in index.plan.pieces}


@dataclass(frozen=True)
class JobNames:
    """What a record may name of a plan: by remainder, and by what is at hand, the number of its layout; the pieces that
    were cut and fitted when the plan was made. `highest` is the highest number of a layout (its digits are on every
    board), `least` are a shortest and a narrowest piece (what is smaller is scrap)."""

    remainders: dict[str, int]
    at_hand: dict[str, int]
    cut: tuple[str, ...]
    fitted: tuple[str, ...]
    highest: int
    least: tuple[str, ...]


@figure
def job_names(index: PlanIndex) -> JobNames:
    """What a record may name of a plan."""
    plan = index.plan
    there = {item.name for item in plan.job.at_hand}
    at_hand: dict[str, int] = {}
    for number, layout in plan.numbered_layouts:
        if layout.stock in there:
            at_hand.setdefault(layout.stock, number)
    least = (
        (
            min(plan.pieces, key=lambda piece: piece.length_mm).id,
            min(plan.pieces, key=lambda piece: piece.width_min_mm).id,
        )
        if plan.pieces
        else ()
    )
    return JobNames(
        {part.name: part.layout for part in plan.remainders},
        at_hand,
        tuple(piece.id for piece in plan.pieces if piece.status != "planned"),
        tuple(piece.id for piece in plan.pieces if piece.status == "fitted"),
        max((number for number, _ in plan.numbered_layouts), default=0),
        least,
    )


@figure
def label_places(index: PlanIndex) -> dict[str, str]:
    """Where at the slab edge what is written on each label is shown: the part of the address after the building's, by
    the name of the piece or remainder."""
    place = {level: number + 1 for level, number in index.level_place.items()}
    found = {part.name: f"levels/{place[part.waits_for]}#label-{part.name}" for part in index.plan.remainders}
    return found | {
        piece.id: f"levels/{place[piece.level]}/fit#label-{piece.id}" for piece in index.plan.pieces
    }


class KeptInParts(Kept, Protocol):
    """Where a kept plan, or parts of it, is read from."""

    def parts(self, names: Iterable[str]) -> list[PlanPart]:
        """Those of some excerpts that there are."""


@dataclass(frozen=True)
class BegunPlan:
    """A plan with the pieces, layouts and remainders of which its job's record says something, and those of the levels
    that are looked at; `read` is its project with the runs of those pieces alone, whose gaps are known; by piece the
    places of its run and layout, and what else events may name (`names`), also which pieces were cut and fitted."""

    plan: Plan
    read: Project
    places: Mapping[str, tuple[int, int]]
    names: JobNames
    numbers: tuple[int, ...]

    def by_level(self, pieces: Iterable[str]) -> Counter[str]:
        """How many of some pieces each level has."""
        levels = [run.level for run in self.plan.project.runs]
        return Counter(levels[self.places[piece][0] - 1] for piece in pieces if piece in self.places)

    @cached_property
    def pieces(self) -> Counter[str]:
        """How many pieces each level has, done or not."""
        return self.by_level(self.places)

    def plan_names(self) -> PlanNames:
        """What events may name, as `PlanNames.of` has it of a whole plan."""
        project, job = self.plan.project, self.plan.job
        return PlanNames(
            frozenset(self.places),
            frozenset(project.building.levels),
            frozenset(project.building.products),
            frozenset(
                {*self.names.remainders, *(item.name for item in job.at_hand)}
                | {part.name for board in job.cut_boards for part in board.kept}
            ),
            frozenset({*self.numbers, *(board.number for board in job.cut_boards)}),
        )


def begun_plan(
    source: KeptInParts, record: Record, levels: Collection[str] = (), *, fitted: bool = True
) -> BegunPlan:
    """What pages of a job need of a plan to tell how it stands after everything on record; whole the `levels` that
    they show, and where what was used is counted, every piece that was `fitted` when it was made."""
    plan = source.plan
    places, names = piece_places(plan), job_names(plan)
    runs, layouts = _told(plan, record, places, names)
    if levels:
        shown = {place for place, run in enumerate(plan.project.runs, 1) if run.level in levels}
        runs |= shown
        layouts |= {layout for place, layout in places.values() if place in shown} - {0}
    for piece in (*names.least, *(names.fitted if fitted else ())):
        runs.add(places[piece][0])
    if names.highest:
        layouts.add(names.highest)
    parts = source.parts(
        [*(name_of_run(place) for place in sorted(runs)), *(name_of_layout(one) for one in sorted(layouts))]
    )
    pieces = {piece.id: piece for part in parts for piece in part.pieces}
    begun = source.with_tables(
        gaps=tuple(gap for part in parts for gap in part.gaps),
        pieces=tuple(pieces.values()),
        layouts=tuple(layout for part in parts for layout in part.layouts),
        left_over=tuple(rest for part in parts for rest in part.left_over),
        remainders=tuple(one for part in parts for one in part.remainders),
    )
    return BegunPlan(begun, _with_runs(begun.project, runs), places, names, layout_numbers(plan))


def _with_runs(project: Project, places: Collection[int]) -> Project:
    """A project with some of its runs, by their places from 1, which join none but each other."""
    there = [run for place, run in enumerate(project.runs, 1) if place in places]
    names = {run.run for run in there}
    alone = (run if run.joins in names else run.model_copy(update={"joins": ""}) for run in there)
    return project.model_copy(update={"runs": tuple(alone)})


def _told(
    plan: KeptPlan, record: Record, places: Mapping[str, tuple[int, int]], names: JobNames
) -> tuple[set[int], set[int]]:
    """The runs, by place, and the layouts, by number, of which a record tells what its plan does not know."""
    runs: set[int] = set()
    layouts: set[int] = set()
    known = set(plan.record.standing)
    boards: set[int] = set()
    levels: set[str] = set()
    for event in record.standing:
        if event in known or event.event not in _OF_PIECES:
            continue
        if event.piece:
            place, layout = places.get(event.piece, (0, 0))
            runs.add(place)
            layouts.add(layout)
        elif event.board:
            boards.add(_layout_of(event, names))
        elif event.level:
            levels.add(event.level)
    boards.discard(0)
    of_levels = {place for place, run in enumerate(plan.project.runs, 1) if run.level in levels}
    if boards or of_levels:
        for place, layout in places.values():
            if layout in boards:
                runs.add(place)
            if place in of_levels:
                layouts.add(layout)
    return (runs | of_levels) - {0}, (layouts | boards) - {0}


def _layout_of(event: Event, names: JobNames) -> int:
    """The layout that an event's board means; 0 where the plan has none."""
    for known in (names.remainders, names.at_hand):
        if event.board in known:
            return known[event.board]
    return board_number(event.board) or 0
