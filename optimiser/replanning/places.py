"""The places that a newer survey asks pieces for: the old joints wherever they still serve.

A piece that is cut fits best where it was meant to go, so a run keeps every span between old joints that a cut
width still serves. Where one does not, `optimiser.replanning.joints` finds new joints around it that leave the others
alone. What is outside the detail's tested range stays open, with its reason and mend.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from optimiser.joints.layout import LaidPiece, lay_out
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Gap, Project, Run
from optimiser.replanning.joints import Stretch, joints_around
from optimiser.replanning.place_maker import PlaceMaker
from optimiser.survey.gap_line import deciding_gaps


@dataclass(frozen=True)
class Places:
    """The places of all levels that are not closed, and what cannot be built as it was surveyed.

    `runs_with_new_joints` were planned before and have lost a joint: their pieces may have to move.
    """

    places: tuple[LaidPiece, ...]
    not_planned: tuple[NotPlanned, ...]
    runs_with_new_joints: tuple[str, ...]


def places_of(plan: Plan, survey: Project, closed_levels: Collection[str]) -> Places:
    """The survey's places outside `closed_levels`, in the order of its runs."""
    before = _Before.of(plan, survey)
    gaps = survey.building.gaps
    runs = [run for run in survey.runs if run.level not in closed_levels]
    kept = {run.run: before.spans_that_serve(run, gaps[run.run]) for run in runs}
    afresh = _laid_afresh(survey, [run for run in runs if not _tile(kept[run.run], run)])
    places: list[LaidPiece] = []
    not_planned: list[NotPlanned] = []
    new_joints: list[str] = []
    for run in runs:
        spans: Sequence[Stretch] = kept[run.run]
        if run.run in afresh:
            made = PlaceMaker(survey, run, gaps[run.run])
            spans = joints_around(made, kept[run.run], afresh[run.run])
        pieces = [span for span in spans if isinstance(span, LaidPiece)]
        places += [replace(place, index=index) for index, place in enumerate(pieces, start=1)]
        not_planned += [span for span in spans if isinstance(span, NotPlanned)]
        if not before.joints(run) <= {span.to_mm for span in spans}:
            new_joints.append(run.run)
    return Places(tuple(places), tuple(not_planned), tuple(new_joints))


def spans_that_serve(plan: Plan, survey: Project, run: Run) -> list[LaidPiece]:
    """The places of a plan on a run of a newer survey whose joints still serve, in order of position."""
    return _Before.of(plan, survey).spans_that_serve(run, survey.building.gaps[run.run])


def _laid_afresh(survey: Project, runs: Sequence[Run]) -> dict[str, list[Stretch]]:
    """Each of these runs as a plan of the survey would divide it, in order of position."""
    found: dict[str, list[Stretch]] = {run.run: [] for run in runs}
    if runs:
        laid = lay_out(survey.with_runs(runs))
        stretches: list[Stretch] = [*laid.pieces, *laid.not_planned]
        for stretch in stretches:
            found[stretch.run].append(stretch)
    return {name: sorted(along, key=lambda stretch: stretch.from_mm) for name, along in found.items()}


def _tile(spans: Sequence[LaidPiece], run: Run) -> bool:
    """Whether spans, in order, cover the run end to end."""
    ends = [0, *(span.to_mm for span in spans)]
    return ends[-1] == run.length_mm and ends[:-1] == [span.from_mm for span in spans]


@dataclass(frozen=True)
class _Before:
    """The plan's pieces by run, beside the survey that they must serve now."""

    survey: Project
    same_rules: bool
    runs: Mapping[str, Run]
    gaps: Mapping[str, tuple[Gap, ...]]
    pieces: dict[str, list[PlannedPiece]]

    @classmethod
    def of(cls, plan: Plan, survey: Project) -> _Before:
        pieces: dict[str, list[PlannedPiece]] = {}
        for piece in sorted(plan.pieces, key=lambda piece: piece.from_mm):
            pieces.setdefault(piece.run, []).append(piece)
        return cls(
            survey=survey,
            same_rules=_same_rules(plan.project, survey),
            runs=plan.project.building.runs,
            gaps=plan.project.building.gaps,
            pieces=pieces,
        )

    def joints(self, run: Run) -> set[int]:
        """The old joints that lie within the run; none where it is new."""
        spans = self.pieces.get(run.run, [])
        return {span.to_mm for span in spans if span.to_mm < run.length_mm}

    def spans_that_serve(self, run: Run, gaps: Sequence[Gap]) -> list[LaidPiece]:
        """Places between old joints that still serve, in order: of an unchanged run all of them, as they were.

        A short piece is a last resort of its own survey: where anything of its run changed it is not kept.
        """
        old, spans = self.runs.get(run.run), self.pieces.get(run.run, [])
        if old is None:
            return []
        unchanged = self.same_rules and old == run and self.gaps[run.run] == gaps
        made = PlaceMaker(self.survey, run, gaps)
        found = []
        for piece in spans:
            if piece.to_mm > run.length_mm:
                continue
            if unchanged or (piece.tapered and self._alike(run, old, gaps, piece)):
                found.append(_place_of(self.survey, run, piece))
            elif made.may_end_at(piece.from_mm) and made.may_end_at(piece.to_mm):
                whole = (piece.from_mm, piece.to_mm) == (0, run.length_mm)
                place = made.place(piece.from_mm, piece.to_mm)
                if place is not None and (whole or not place.short):
                    found.append(place)
        return found

    def _alike(self, run: Run, old: Run, gaps: Sequence[Gap], piece: PlannedPiece) -> bool:
        """Whether nothing changed that a piece over its span depends on."""
        span = piece.from_mm, piece.to_mm
        inside = [
            [mullion for mullion in one.mullions_mm if span[0] <= mullion <= span[1]] for one in (old, run)
        ]
        decide = deciding_gaps(self.gaps[run.run], *span), deciding_gaps(gaps, *span)
        clear = PlaceMaker(self.survey, run, gaps).may_end_at
        return (
            self.same_rules
            and (old.board, old.detail, old.radius_mm) == (run.board, run.detail, run.radius_mm)
            and inside[0] == inside[1]
            and decide[0] == decide[1]
            and all(map(clear, span))
        )


def _same_rules(before: Project, now: Project) -> bool:
    return before.detail == now.detail and before.details == now.details


def _place_of(survey: Project, run: Run, piece: PlannedPiece) -> LaidPiece:
    """A planned piece's own place, where nothing that it depends on changed."""
    return LaidPiece(
        run=piece.run,
        level=run.level,
        index=0,
        from_mm=piece.from_mm,
        to_mm=piece.to_mm,
        gap_min_mm=piece.gap_min_mm,
        gap_max_mm=piece.gap_max_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=piece.width_max_mm,
        width_start_mm=piece.cut_width_start_mm if piece.tapered else piece.width_min_mm,
        width_end_mm=piece.cut_width_end_mm if piece.tapered else piece.width_min_mm,
        tapered=piece.tapered,
        short=piece.length_mm < survey.building.detail_of(run.run).piece_length_min_mm,
        boards=piece.boards,
        mullions_mm=piece.mullions_at_mm,
        basis=piece.basis,
    )
