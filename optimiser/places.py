"""The places that a newer survey asks pieces for: the old joints wherever they still serve.

A piece that is cut fits best where it was meant to go, so a run keeps its joints as long as a cut width serves
each span between them. A span that no width serves any more is divided once, where its two parts have the widest
windows; only where that does not help either is the whole run laid out afresh. What is outside the detail's tested
range stays open, with its reason and mend.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor

from optimiser.gaps import GapAlongRun, deciding_gaps
from optimiser.joints import LaidPiece, lay_out
from optimiser.plan import NotPlanned, Plan, PlannedPiece
from optimiser.project import Project, Run
from optimiser.windows import WidthRates, compression_window

DIVIDE_EVERY_MM = 5  # where a span may be divided, besides at measured positions


@dataclass(frozen=True)
class Places:
    """The places of all levels that are not closed, and what cannot be built as it was surveyed."""

    places: tuple[LaidPiece, ...]
    not_planned: tuple[NotPlanned, ...]
    runs_laid_out_afresh: tuple[str, ...]


def places_of(plan: Plan, survey: Project, closed_levels: Collection[str]) -> Places:
    """The survey's places outside `closed_levels`, in the order of its runs."""
    before: dict[str, list[PlannedPiece]] = {}
    for piece in plan.pieces:
        before.setdefault(piece.run, []).append(piece)
    old_runs = {run.run: run for run in plan.project.runs}
    gone = {place.run for place in plan.not_planned if place.what == "piece"}
    old_gaps, gaps = plan.project.gaps_of(), survey.gaps_of()
    same_rules = plan.project.detail == survey.detail
    kept: dict[str, tuple[LaidPiece, ...]] = {}
    afresh: list[Run] = []
    for run in survey.runs:
        if run.level in closed_levels:
            continue
        old, spans = old_runs.get(run.run), sorted(before.get(run.run, ()), key=lambda piece: piece.from_mm)
        keep = old is not None and run.run not in gone and spans and old.length_mm == run.length_mm
        found = _same_joints(survey, run, spans) if keep else None
        unchanged = keep and same_rules and old == run and old_gaps[run.run] == gaps[run.run]
        if unchanged and any(piece.tapered for piece in spans):
            found = tuple(_place_of(survey, run, index, piece) for index, piece in enumerate(spans, 1))
        if found is None:
            afresh.append(run)
        else:
            kept[run.run] = found
    laid = _laid_afresh(survey, afresh)
    by_run: dict[str, list[LaidPiece]] = {}
    for place in laid.places:
        by_run.setdefault(place.run, []).append(place)
    return Places(
        places=tuple(
            place for run in survey.runs for place in kept.get(run.run) or tuple(by_run.get(run.run, ()))
        ),
        not_planned=laid.not_planned,
        runs_laid_out_afresh=tuple(run.run for run in afresh),
    )


def _laid_afresh(survey: Project, runs: Sequence[Run]) -> Places:
    if not runs:
        return Places((), (), ())
    names = {run.run for run in runs}
    part = survey.model_copy(
        update={"runs": tuple(runs), "gaps": tuple(gap for gap in survey.gaps if gap.run in names)}
    )
    laid = lay_out(part)
    return Places(laid.pieces, laid.not_planned, ())


def _same_joints(survey: Project, run: Run, spans: Sequence[PlannedPiece]) -> tuple[LaidPiece, ...] | None:
    """The run's places between its old joints, a span divided where it must be; None when that will not do."""
    detail = survey.detail
    clear = detail.joint_to_mullion_min_mm
    mullions = sorted(set(run.mullions_mm))
    if spans[0].from_mm != 0 or spans[-1].to_mm != run.length_mm:
        return None
    along = GapAlongRun.of(survey.gaps_of()[run.run])
    made = _PlaceMaker(survey, run, along, tuple(mullions))
    found: list[LaidPiece] = []
    for before, piece in zip((None, *spans), spans, strict=False):
        if before is not None and (
            before.to_mm != piece.from_mm or any(abs(m - piece.from_mm) < clear for m in mullions)
        ):
            return None
        if piece.length_mm < detail.piece_length_min_mm and len(spans) > 1:
            return None  # a short piece is a last resort of its own survey
        place = made.place(piece.from_mm, piece.to_mm)
        parts = (place,) if place is not None else made.divided(piece.from_mm, piece.to_mm)
        if parts is None:
            return None
        found.extend(parts)
    return tuple(replace(place, index=index) for index, place in enumerate(found, start=1))


@dataclass(frozen=True)
class _PlaceMaker:
    """Makes the places of a run from spans that one cut width serves."""

    survey: Project
    run: Run
    along: GapAlongRun
    mullions: tuple[int, ...]

    def place(self, from_mm: int, to_mm: int) -> LaidPiece | None:
        """The place over a span, or None where no single width serves it or its gap is outside the range."""
        detail = self.survey.detail
        least, greatest = self.along.extremes(from_mm, to_mm)
        if least < detail.gap_min_mm or greatest > detail.gap_max_mm:
            return None
        width_min, width_max = compression_window(WidthRates.of(detail), self.along, from_mm, to_mm)
        boards = tuple(
            code
            for code in dict.fromkeys(self.run.board)
            if (self.survey.product(code).length_mm or 0) >= to_mm - from_mm
            and (self.survey.product(code).width_mm or 0) >= width_min
        )
        if width_min > width_max or not boards:
            return None
        deciding = deciding_gaps(self.survey.gaps_of()[self.run.run], from_mm, to_mm)
        return LaidPiece(
            run=self.run.run,
            level=self.run.level,
            index=0,
            from_mm=from_mm,
            to_mm=to_mm,
            gap_min_mm=floor(least),
            gap_max_mm=ceil(greatest),
            width_min_mm=width_min,
            width_max_mm=width_max,
            width_start_mm=width_min,
            width_end_mm=width_min,
            tapered=False,
            short=to_mm - from_mm < detail.piece_length_min_mm,
            boards=boards,
            mullions_mm=tuple(m for m in self.mullions if from_mm < m < to_mm),
            basis="nominal" if any(gap.basis == "nominal" for gap in deciding) else "measured",
        )

    def divided(self, from_mm: int, to_mm: int) -> tuple[LaidPiece, LaidPiece] | None:
        """A span in two, with the widest windows in sum; None where no place for the joint serves."""
        detail = self.survey.detail
        shortest, clear = detail.piece_length_min_mm, detail.joint_to_mullion_min_mm
        inside = range(from_mm + shortest, to_mm - shortest + 1)
        joints = sorted({*inside[::DIVIDE_EVERY_MM], *(k for k in self.along.at_mm if k in inside)})
        best: tuple[Fraction, LaidPiece, LaidPiece] | None = None
        for joint in joints:
            if any(abs(mullion - joint) < clear for mullion in self.mullions):
                continue
            left, right = self.place(from_mm, joint), self.place(joint, to_mm)
            if left is None or right is None:
                continue
            room = Fraction(left.width_max_mm - left.width_min_mm + right.width_max_mm - right.width_min_mm)
            if best is None or room > best[0]:
                best = room, left, right
        return None if best is None else best[1:]


def _place_of(survey: Project, run: Run, index: int, piece: PlannedPiece) -> LaidPiece:
    """A planned piece's own place, where nothing of its run changed."""
    return LaidPiece(
        run=piece.run,
        level=run.level,
        index=index,
        from_mm=piece.from_mm,
        to_mm=piece.to_mm,
        gap_min_mm=piece.gap_min_mm,
        gap_max_mm=piece.gap_max_mm,
        width_min_mm=piece.width_min_mm,
        width_max_mm=piece.width_max_mm,
        width_start_mm=piece.cut_width_start_mm if piece.tapered else piece.width_min_mm,
        width_end_mm=piece.cut_width_end_mm if piece.tapered else piece.width_min_mm,
        tapered=piece.tapered,
        short=piece.length_mm < survey.detail.piece_length_min_mm,
        boards=piece.boards,
        mullions_mm=piece.mullions_at_mm,
        basis=piece.basis,
    )
