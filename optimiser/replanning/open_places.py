"""The places that are still open: the newest survey around the pieces that are done, the old joints where they serve.

A place between the same joints keeps its piece's name; a new one gets a number that its run never had, so that a label
on site means one piece for ever. A piece that is cut and does not serve its place any more is free for another.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece, lay_out
from optimiser.model.plan import Plan
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Basis, Project, Run
from optimiser.planning.pieces import planned_pieces
from optimiser.replanning.fit import PieceKind, PlaceKind, rework
from optimiser.replanning.job_state import Happened
from optimiser.replanning.joints import Stretch, joints_within
from optimiser.replanning.place_maker import PlaceMaker
from optimiser.replanning.places import spans_that_serve


@dataclass(frozen=True)
class OpenPlaces:
    """`places` wait for a piece; `done` pieces are in theirs; `free` are cut and have none. `not_planned` cannot be
    built as surveyed; `runs_with_new_joints` lost a joint that they had."""

    places: tuple[LaidPiece, ...]
    done: tuple[PlannedPiece, ...]
    free: tuple[PlannedPiece, ...]
    not_planned: tuple[NotPlanned, ...]
    runs_with_new_joints: tuple[str, ...]


def open_places(plan: Plan, survey: Project, state: Happened, code_of: Mapping[str, str]) -> OpenPlaces:
    """The open places of a survey after what happened; `code_of` is the board's code of each cut piece.

    Raises CannotBeDone where a run with fitted pieces is gone or too short for them.
    """
    of_run: dict[str, list[PlannedPiece]] = {}
    for piece in sorted(plan.pieces, key=lambda piece: piece.from_mm):
        of_run.setdefault(piece.run, []).append(piece)
    _refuse_lost_places(survey, of_run, state)
    places: list[LaidPiece] = []
    done: list[PlannedPiece] = []
    free: list[PlannedPiece] = []
    not_planned: list[NotPlanned] = []
    new_joints: list[str] = []
    for run in survey.runs:
        before = of_run.get(run.run, [])
        mine = _Run(plan, survey, run, state, code_of)
        stays, left = mine.done(before)
        done += stays
        free += left
        stretches = mine.stretches(stays)
        found = [stretch for stretch in stretches if isinstance(stretch, LaidPiece)]
        places += mine.named(found, before)
        not_planned += [stretch for stretch in stretches if isinstance(stretch, NotPlanned)]
        joints = {piece.to_mm for piece in before if piece.to_mm < run.length_mm}
        if not joints <= {stretch.to_mm for stretch in (*stretches, *stays)}:
            new_joints.append(run.run)
    gone = [piece for name, pieces in of_run.items() if name not in survey.building.runs for piece in pieces]
    free += [piece for piece in gone if piece.id in state.cut and piece.id not in state.spoilt]
    return OpenPlaces(tuple(places), tuple(done), tuple(free), tuple(not_planned), tuple(new_joints))


def _refuse_lost_places(
    survey: Project, of_run: Mapping[str, Sequence[PlannedPiece]], state: Happened
) -> None:
    wrong = []
    for name, pieces in of_run.items():
        fitted = [piece for piece in pieces if piece.id in state.fitted]
        run = survey.building.runs.get(name)
        if fitted and run is None:
            wrong.append(
                f"run {name} has fitted pieces, but the survey has no such run; keep it in the survey"
            )
        elif run is not None and any(piece.to_mm > run.length_mm for piece in fitted):
            last = max(piece.to_mm for piece in fitted)
            wrong.append(
                f"run {name} has a piece fitted up to {last} mm, but the survey says that it is {run.length_mm} mm"
                " long; measure its length again"
            )
    if wrong:
        raise CannotBeDone(wrong)


@dataclass(frozen=True)
class _Run:
    """One run of the newest survey, beside what the plan had on it and what happened since."""

    plan: Plan
    survey: Project
    run: Run
    state: Happened
    code_of: Mapping[str, str]

    @property
    def maker(self) -> PlaceMaker:
        return PlaceMaker(self.survey, self.run, self.survey.building.gaps[self.run.run])

    def done(self, before: Sequence[PlannedPiece]) -> tuple[list[PlannedPiece], list[PlannedPiece]]:
        """The pieces that are done and stay, with their status; and those that are cut and fit here no more."""
        stays: list[PlannedPiece] = []
        free: list[PlannedPiece] = []
        same = {span.from_mm: span for span in spans_that_serve(self.plan, self.survey, self.run)}
        for piece in before:
            if piece.id not in self.state.cut or piece.id in self.state.spoilt:
                continue
            if piece.id in self.state.fitted:
                stays.append(
                    piece.model_copy(
                        update={"status": "fitted", "level": self.run.level, "basis": self._basis(piece)}
                    )
                )
                continue
            place = same.get(piece.from_mm)
            if place is not None and place.to_mm != piece.to_mm:
                place = None
            fits = place and rework(
                PieceKind.of(piece, self.code_of[piece.id]),
                PlaceKind.of(place),
                self.survey.building.detail_of(self.run.run).trim,
            )
            if place and fits and not fits.trimmed:
                stays.append(self._in_place(piece, place))
            else:
                free.append(piece)
        return stays, free

    def _in_place(self, piece: PlannedPiece, place: LaidPiece) -> PlannedPiece:
        """A cut piece in its place as it is measured now, with the brackets that belong there."""
        place = replace(place, index=_number(piece.id))
        widths = {place.id: (piece.cut_width_start_mm, piece.cut_width_end_mm)}
        (made,), *_ = planned_pieces(self.survey, [place], widths)
        return made.model_copy(update={"id": piece.id, "status": "cut"})

    def _basis(self, piece: PlannedPiece) -> Basis:
        """A fitted piece's own, unless its run's gaps are all of the other kind by now."""
        bases = {gap.basis for gap in self.survey.building.gaps[self.run.run]}
        return piece.basis if piece.basis in bases else min(bases)

    def stretches(self, stays: Sequence[PlannedPiece]) -> list[Stretch]:
        """What is between the pieces that stay, end to end: places that wait for a piece, and what stays open."""
        taken = [(piece.from_mm, piece.to_mm) for piece in stays]
        windows = _between(taken, self.run.length_mm)
        if not windows:
            return []

        kept = [
            span
            for span in spans_that_serve(self.plan, self.survey, self.run)
            if any(inside_of(span, window) for window in windows)
        ]
        if _tiled(kept, windows):
            return list(kept)
        laid = lay_out(self.survey.with_runs((self.run,)))
        fresh: list[Stretch] = sorted((*laid.pieces, *laid.not_planned), key=lambda span: span.from_mm)
        if not stays and not kept:
            return fresh
        found: list[Stretch] = []
        for window in windows:
            found += self._around(window, [span for span in kept if inside_of(span, window)], fresh)
        return found

    def _around(
        self, window: tuple[int, int], kept: Sequence[LaidPiece], fresh: Sequence[Stretch]
    ) -> list[Stretch]:
        """One stretch of a run between pieces that stay, laid out again."""
        inner = [span for span in fresh if inside_of(span, window)]
        found = joints_within(self.maker, kept, inner, window)
        if found is not None:
            return list(found)
        first, last = window
        return [
            NotPlanned(
                run=self.run.run,
                level=self.run.level,
                from_mm=first,
                to_mm=last,
                what="piece",
                reason=f"run {self.run.run}, {first} to {last} mm: no pieces fit between those that are done",
                mend="measure the gap there again, or take out a piece beside it",
            )
        ]

    def named(self, places: Sequence[LaidPiece], before: Sequence[PlannedPiece]) -> list[LaidPiece]:
        """The places with their numbers: the old piece's between the same joints, else one that was never given."""
        old = {
            (piece.from_mm, piece.to_mm): _number(piece.id)
            for piece in before
            if piece.id not in self.state.cut and piece.id not in self.state.spoilt
        }
        given = [_number(piece.id) for piece in before]
        given += [
            _number(name)
            for board in self.state.boards
            for name in board.pieces
            if name.rpartition("-")[0] == self.run.run
        ]
        following = max(given, default=0) + 1
        found = []
        for place in places:
            index = old.get((place.from_mm, place.to_mm))
            if index is None:
                index, following = following, following + 1
            found.append(replace(place, index=index))
        return found


def inside_of(span: Stretch, window: tuple[int, int]) -> bool:
    """Whether a stretch lies within a window of its run."""
    return window[0] <= span.from_mm and span.to_mm <= window[1]


def _number(piece: str) -> int:
    """A piece's number in its run: 3 of L01-N-003."""
    return int(piece.rpartition("-")[2])


def _between(taken: Sequence[tuple[int, int]], length: int) -> list[tuple[int, int]]:
    """What of a run lies between the spans that are taken, in order."""
    found: list[tuple[int, int]] = []
    at = 0
    for first, last in sorted(taken):
        if first > at:
            found.append((at, first))
        at = max(at, last)
    if at < length:
        found.append((at, length))
    return found


def _tiled(spans: Sequence[LaidPiece], windows: Sequence[tuple[int, int]]) -> bool:
    """Whether spans, in order, cover the windows end to end."""
    for first, last in windows:
        at = first
        for span in spans:
            if span.from_mm == at and span.to_mm <= last:
                at = span.to_mm
        if at != last:
            return False
    return True
