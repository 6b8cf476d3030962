"""Parts of a plan: a run with its pieces and readings, a board with what is cut from it.

Every page of a run and of boards is made from parts alone, by what makes it from a whole plan.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from api.pages.kept_plan import Small, Source, kept_plan
from optimiser.boards.cutting_sequence import cutting_sequence
from optimiser.boards.cutting_steps import CuttingSequence
from optimiser.model.immutable import Immutable
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern
from optimiser.model.planned_pieces import MovedBracket, PlannedPiece
from optimiser.model.project import Gap
from optimiser.model.remainder import Remainder
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.step_cuts import step_cuts

CutAt = dict[str, tuple[int, str, str]]
"""By piece: its layout's number, the name of the board or remainder it is cut from, and its place there."""


class PlanPart(Immutable):
    """Of a run its pieces, readings and moved brackets, and where the pieces are cut; of a board its layout, under its
    number in the plan, all pieces of it, the sizes that it may leave, and its remainders."""

    pieces: tuple[PlannedPiece, ...]
    layouts: tuple[PlannedPattern, ...] = ()
    left_over: tuple[PlannedLeftOver, ...] = ()
    gaps: tuple[Gap, ...] = ()
    brackets_moved: tuple[MovedBracket, ...] = ()
    remainders: tuple[Remainder, ...] = ()
    cut_at: CutAt | None = None


def name_of_run(place: int) -> str:
    """The name of the excerpt of a run, by its place in the project, from 1."""
    return f"run {place}"


def name_of_layout(number: int) -> str:
    """The name of the excerpt of a layout, by its number."""
    return f"layout {number}"


class PartIndex(PlanIndex):
    """An index of a part of a plan: right for all that is in it, and of nothing else."""

    def __init__(
        self, plan: Plan, forecast: frozenset[str], numbers: tuple[int, ...], cut_at: CutAt | None
    ) -> None:
        super().__init__(plan)
        self._forecast, self._numbers, self.cut_at = forecast, numbers, cut_at

    @cached_property
    def forecast_levels(self) -> frozenset[str]:
        """As of the whole plan, whose other readings are not here."""
        return self._forecast

    @cached_property
    def layout_numbers(self) -> tuple[int, ...]:
        """As of the whole plan."""
        return self._numbers

    @cached_property
    def sequence(self) -> CuttingSequence:
        """The steps of this part's boards, under the names that they have in the whole plan."""
        plan = self.plan
        return cutting_sequence(
            plan.project,
            plan.pieces,
            plan.layouts,
            plan.left_over,
            highest_number=max(self._numbers, default=0),
        )


def index_of_parts(
    small: Small, texts: Iterable[bytes], source: Source, forecast: frozenset[str], numbers: tuple[int, ...]
) -> PartIndex:
    """The index of parts, from their excerpts and the plan's small tables."""
    parts = [PlanPart.model_validate_json(text) for text in texts]
    tables = {
        name: tuple(row for part in parts for row in getattr(part, name))
        for name in ("layouts", "left_over", "gaps", "brackets_moved")
    }
    pieces = {piece.id: piece for part in parts for piece in part.pieces}
    plan = kept_plan(small, source, **tables, pieces=tuple(pieces.values()))
    return PartIndex(plan, forecast, numbers, parts[0].cut_at if len(parts) == 1 else None)


def parts_of(index: PlanIndex) -> Iterator[tuple[str, PlanPart]]:
    """Every run and every layout of a plan, by the name of its excerpt."""
    plan = index.plan
    cut_at: CutAt = {
        piece.id: (step.layout, step.name, piece.place)
        for step in index.sequence.steps
        for piece in step_cuts(index, step).pieces
    }
    moved: Mapping[str, list[MovedBracket]] = defaultdict(list)
    for bracket in plan.brackets_moved:
        moved[bracket.run].append(bracket)
    for place, run in enumerate(plan.project.runs, 1):
        pieces = index.pieces_of_run[run.run]
        yield (
            name_of_run(place),
            PlanPart(
                pieces=pieces,
                gaps=index.gaps_of_run[run.run],
                brackets_moved=tuple(moved[run.run]),
                cut_at={piece.id: cut_at[piece.id] for piece in pieces if piece.id in cut_at},
            ),
        )
    leaving: Mapping[tuple[str, int], list[PlannedLeftOver]] = defaultdict(list)
    for rest in plan.left_over:
        leaving[rest.code, rest.sequence].append(rest)
    kept: Mapping[int, list[Remainder]] = defaultdict(list)
    for remainder in plan.remainders:
        kept[remainder.layout].append(remainder)
    for number, layout in plan.numbered_layouts:
        cut = [index.pieces[piece.id] for strip in layout.strips for piece in strip.pieces]
        yield (
            name_of_layout(number),
            PlanPart(
                pieces=tuple(cut),
                layouts=(layout.model_copy(update={"number": number}),),
                left_over=tuple(leaving[layout.code or layout.stock, layout.sequence]),
                remainders=tuple(kept[number]),
            ),
        )
