"""What is shown at the slab edge: how far each level is, what to cut next and from what, what became of a piece."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Literal

from markupsafe import Markup

from api.pages.begun_plan import BegunPlan, KeptInParts, begun_plan
from api.pages.boards_view import BOARD_NARROW, size_of, step_picture, stock_of
from api.pages.figures import forecast_levels_of
from api.pages.plan_part import PartIndex
from api.pages.words import no_such
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.record import Event, Record
from optimiser.model.remainder import Remainder
from optimiser.reading.record_file import record_from_json
from optimiser.replanning.happened import happened
from optimiser.replanning.job_state import Happened
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.step_cuts import step_cuts

State = Literal["planned", "cut", "fitted", "damaged"]


@dataclass(frozen=True)
class PieceAtSite:
    """A piece as a card shows it. `cut_event` and `fitted_event` are the ids of the events that can be taken back."""

    piece: PlannedPiece
    state: State
    cut_event: str
    fitted_event: str
    spoilt_event: str
    cut_from: str = ""
    place: str = ""

    @property
    def width(self) -> str:
        """'165', or '165 to 171' of a tapered piece."""
        start, end = self.piece.cut_width_start_mm, self.piece.cut_width_end_mm
        return f"{start}" if start == end else f"{start} to {end}"

    @property
    def brackets(self) -> str:
        """'K-110 at 300, 900', or that none fits."""
        if self.piece.bracket is None:
            return "none fits"
        return f"{self.piece.bracket} at {', '.join(str(at) for at in self.piece.brackets_at_mm)}"


@dataclass(frozen=True)
class StepAtSite:
    """A board to open, or a remainder to take from the rack, with what is cut of it now."""

    number: int
    name: str
    code: str
    size: str
    taken: bool
    on_site: bool
    rack_with: str  # of a remainder: the level with which it was racked
    pieces: tuple[PieceAtSite, ...]
    kept: tuple[Remainder, ...]
    left_over: tuple[str, ...]
    ready: bool
    picture: Markup

    @property
    def begun(self) -> bool:
        """Whether any of it is cut, so that its remainders are on the rack."""
        return any(piece.state != "planned" for piece in self.pieces)


@dataclass(frozen=True)
class LevelAtSite:
    """How far a level is; `place` is its place in the delivery order, from 1."""

    place: int
    level: str
    needed_on: date | None
    pieces: int
    cut: int
    fitted: int
    damaged: int
    nominal: bool

    @property
    def done(self) -> bool:
        """Whether each of its pieces is fitted."""
        return self.fitted == self.pieces


@dataclass
class SiteView:
    """A plan and the record of its job, as the pages at the slab edge look things up; of the levels that `begun` has
    whole, their steps and runs too.

    `wrong` says why the record does not fit the plan; then only the plan's own marks of done pieces are shown.
    """

    begun: BegunPlan
    record: Record
    forecast: frozenset[str]
    wrong: tuple[str, ...] = ()
    happened: Happened = field(default_factory=Happened)

    @classmethod
    def of(cls, source: KeptInParts, record: str, levels: Collection[str] = ()) -> SiteView:
        """The view of a kept plan and a record as JSON text, with some levels whole."""
        told = record_from_json(json.loads(record))
        begun = begun_plan(source, told, levels, fitted=False)
        return cls.after(told, begun, forecast_levels_of(source.plan))

    @classmethod
    def after(cls, record: Record, begun: BegunPlan, forecast: frozenset[str]) -> SiteView:
        """The view after everything on record."""
        try:
            return cls(begun, record, forecast, (), happened(begun.plan, record))
        except CannotBeDone as error:
            return cls(begun, record, forecast, tuple(error.reasons), Happened())

    @property
    def plan(self) -> Plan:
        """The plan, with the levels that are looked at and what the record says something of."""
        return self.begun.plan

    @cached_property
    def index(self) -> PlanIndex:
        """The plan's index, right for the levels that are looked at."""
        return PartIndex(self.begun.plan, self.forecast, self.begun.numbers, None)

    @cached_property
    def _fitted(self) -> set[str]:
        return self.happened.fitted.union(self.begun.names.fitted)

    @cached_property
    def _cut(self) -> set[str]:
        return self._fitted.union(self.begun.names.cut, self.happened.cut)

    @cached_property
    def _events(self) -> Mapping[tuple[str, str], str]:
        """By piece and kind the id of the last event of that piece alone that may be taken back."""
        held = set(self.plan.record.standing)
        return {
            (event.piece, event.event): event.id
            for event in self.record.standing
            if event.piece and event.id and event not in held
        }

    @property
    def strangers(self) -> tuple[Event, ...]:
        """Events of pieces or boards that the plan lacks: of an earlier plan, or a slip. They can be taken back."""
        names, held = self.begun.plan_names(), set(self.plan.record.standing)
        return tuple(
            event
            for event in self.record.standing
            if event.id and event not in held and any(names.strange(event.model_dump()))
        )

    def state(self, piece: str) -> State:
        """What became of a piece so far."""
        if piece in self.happened.spoilt:
            return "damaged"
        if piece in self._fitted:
            return "fitted"
        return "cut" if piece in self._cut else "planned"

    def _at_site(self, piece: PlannedPiece, cut_from: str = "", place: str = "") -> PieceAtSite:
        cut, fitted, spoilt = (
            self._events.get((piece.id, kind), "") for kind in ("cut", "fitted", "scrapped")
        )
        return PieceAtSite(piece, self.state(piece.id), cut, fitted, spoilt, cut_from, place)

    @cached_property
    def levels(self) -> tuple[LevelAtSite, ...]:
        """Every level in delivery order."""
        spoilt = self.happened.spoilt
        cut, fitted, damaged = (
            self.begun.by_level(some) for some in (self._cut - spoilt, self._fitted - spoilt, spoilt)
        )
        return tuple(
            LevelAtSite(
                place,
                level.level,
                level.needed_on,
                self.begun.pieces[level.level],
                cut[level.level],
                fitted[level.level],
                damaged[level.level],
                level.level in self.forecast,
            )
            for place, level in enumerate(self.index.levels, 1)
        )

    @property
    def today(self) -> LevelAtSite | None:
        """The first level that is measured and not wholly fitted; without one, the first that is not done."""
        not_done = [level for level in self.levels if not level.done]
        ready = [level for level in not_done if not level.nominal]
        return next(iter((*ready, *not_done)), None)

    def level(self, place: int) -> LevelAtSite:
        """The level at a place of the delivery order, from 1. Raises IndexError when there is none."""
        if not 1 <= place <= len(self.levels):
            raise IndexError(no_such("The building", len(self.levels), "level", place))
        return self.levels[place - 1]

    def steps(self, level: LevelAtSite) -> tuple[StepAtSite, ...]:
        """What is cut for a level, in the order of work: boards that are opened, then remainders that are taken."""
        sequence = self.index.levels[level.place - 1].sequence
        found = []
        for step in self.index.sequence.with_delivery(sequence):
            if level.level not in step.levels:
                continue
            cuts = step_cuts(self.index, step)
            found.append(
                StepAtSite(
                    step.layout,
                    step.name,
                    stock_of(step, cuts),
                    size_of(step),
                    step.taken is not None,
                    step.on_site,
                    step.taken.level if step.taken else "",
                    tuple(
                        self._at_site(self.index.pieces[piece.id], step.name, piece.place)
                        for piece in cuts.pieces
                    ),
                    step.kept,
                    tuple(f"{rest.length_mm} x {rest.width_mm}" for rest in step.left_overs),
                    cuts.ready,
                    step_picture(cuts, step, BOARD_NARROW),
                )
            )
        return tuple(found)

    def runs(self, level: LevelAtSite) -> tuple[tuple[str, tuple[PieceAtSite, ...]], ...]:
        """A level's runs, each with its pieces from its start."""
        cut_at = {
            piece.id: (step.name, piece.place)
            for step in self.index.sequence.steps
            if level.level in step.levels
            for piece in step_cuts(self.index, step).pieces
        }
        return tuple(
            (
                run.run,
                tuple(
                    self._at_site(piece, *cut_at.get(piece.id, ("", "")))
                    for piece in self.index.pieces_of_run[run.run]
                ),
            )
            for run in self.plan.project.runs
            if run.level == level.level
        )
