"""Pieces into brackets, anchors and joint tape.

A bracket reaches a share of the gap, its insertion = reach / gap; the detail gives the target (about 75 %: a
150 mm gap -> 112.5 -> the 110 mm size, common practice, no source) and the band allowed. A piece has one size.
The tested detail, local code and a licensed practitioner decide.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Protocol

from optimiser.kernels.reference.brackets import Insertion, joint_tape, sizes_that_fit
from optimiser.model.plan import LevelCounts
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Bracket, Detail, Project
from optimiser.survey.gap_line import GapAlongRun
from optimiser.survey.shown_lengths import shown_mm
from optimiser.takeoff.junctions import junctions_between
from optimiser.takeoff.positions import bracket_positions


class PlacedPiece(Protocol):
    """What brackets need to know of a piece: a `LaidPiece` and a `PlannedPiece` both tell it."""

    @property
    def run(self) -> str: ...
    @property
    def level(self) -> str: ...
    @property
    def from_mm(self) -> int: ...
    @property
    def to_mm(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Brackets:
    """The brackets of a piece: the codes of the sizes that fit, the nearest to the target first, and the positions
    from the piece's start; or why there are none.

    Either `fitting` and at least one position, or neither and `not_planned`.
    """

    fitting: tuple[str, ...]
    positions_mm: tuple[int, ...]
    not_planned: NotPlanned | None = None

    @property
    def bracket(self) -> str | None:
        """The nearest size; None where none fits."""
        return self.fitting[0] if self.fitting else None


def brackets_for(
    piece: PlacedPiece,
    detail: Detail,
    brackets: Sequence[Bracket],
    gap: GapAlongRun,
    mullions_mm: Sequence[int],
) -> Brackets:
    """The bracket size and positions of a piece.

    `brackets` are the sizes on offer; `gap` and `mullions_mm` (ascending) are those of the piece's run. Which sizes
    fit, and in which order: `kernels.reference.brackets.sizes_that_fit`.
    """
    from_mm, length = piece.from_mm, piece.to_mm - piece.from_mm
    clearance = detail.bracket_to_mullion_min_mm
    first = bisect_right(mullions_mm, from_mm - clearance)
    last = bisect_left(mullions_mm, piece.to_mm + clearance)
    near = tuple(mullion - from_mm for mullion in mullions_mm[first:last])
    positions = bracket_positions(length, near, detail)
    if positions is None:
        listed = " ".join(str(mullion + from_mm) for mullion in near)
        return _none(
            piece,
            f"no bracket can stand {clearance} mm clear of the mullions at {listed} mm with brackets at most"
            f" {detail.bracket_spacing_max_mm} mm apart",
            "check the mullions there, bracket_to_mullion_min_mm and bracket_spacing_max_mm against the detail",
        )
    at_brackets = [gap.at(from_mm + position) for position in positions]
    least, greatest = min(at_brackets), max(at_brackets)
    fitting = sizes_that_fit(
        (least, greatest),
        gap.extremes(from_mm, piece.to_mm),
        [size.reach_mm for size in brackets],
        Insertion(
            Fraction(detail.bracket_insertion_min),
            Fraction(detail.bracket_insertion_max),
            Fraction(detail.bracket_insertion),
        ),
    )
    if fitting:
        return Brackets(tuple(brackets[place].code for place in fitting), positions)
    return _no_size(piece, detail, brackets, least, greatest)


def _no_size(
    piece: PlacedPiece, detail: Detail, brackets: Sequence[Bracket], least: Fraction, greatest: Fraction
) -> Brackets:
    shortest = ceil(Fraction(detail.bracket_insertion_min) * greatest)
    longest = floor(Fraction(detail.bracket_insertion_max) * least)
    band = f"{detail.bracket_insertion_min:%} to {detail.bracket_insertion_max:%}"
    gaps = shown_mm(least) if least == greatest else f"{shown_mm(least)} to {shown_mm(greatest)}"
    if shortest > longest:
        return _none(
            piece,
            f"the gap at its brackets goes from {gaps}: no one reach is within {band} of all of it",
            "measure the gap there again, or divide the run there so that each part can have its own size",
        )
    reaches = f"{shortest} mm" if shortest == longest else f"{shortest} to {longest} mm"
    nearest = min(
        brackets,
        key=lambda size: (max(shortest - size.reach_mm, size.reach_mm - longest), size.code),
        default=None,
    )
    offered = (
        f"the nearest on offer is {nearest.code} ({nearest.reach_mm} mm)" if nearest else "none is on offer"
    )
    return _none(
        piece,
        f"the gap at its brackets is {gaps}, so a bracket must reach {reaches}; {offered}",
        f"add a bracket that reaches {reaches} to the products",
    )


def _none(piece: PlacedPiece, reason: str, mend: str) -> Brackets:
    where = f"run {piece.run}, piece from {piece.from_mm} to {piece.to_mm} mm: "
    missing = NotPlanned(
        run=piece.run,
        level=piece.level,
        from_mm=piece.from_mm,
        to_mm=piece.to_mm,
        what="bracket",
        reason=where + reason,
        mend=mend,
    )
    return Brackets((), (), missing)


def brackets_of(project: Project, pieces: Sequence[PlacedPiece]) -> tuple[Brackets, ...]:
    """The brackets of every piece, in the pieces' order."""
    along = {run: GapAlongRun.of(gaps) for run, gaps in project.building.gaps.items()}
    mullions = {run.run: sorted(set(run.mullions_mm)) for run in project.runs}
    sizes, detail_of = project.brackets, project.building.detail_of
    return tuple(
        brackets_for(piece, detail_of(piece.run), sizes, along[piece.run], mullions[piece.run])
        for piece in pieces
    )


def joint_tape_mm(detail: Detail, gap: GapAlongRun, position_mm: int) -> int:
    """Tape over the butt joint at a position: the gap there, rounded up, and a lap at each end, on each face."""
    return joint_tape(gap.at(position_mm), detail.tape_lap_mm, detail.tape_faces)


def joints_of(pieces: Sequence[PlacedPiece]) -> dict[str, tuple[int, ...]]:
    """By run, the positions where two planned pieces meet. A run's ends are no joints, nor is the end of a
    piece beside a stretch that is not planned."""
    ends: dict[str, set[int]] = {}
    for piece in pieces:
        ends.setdefault(piece.run, set()).add(piece.to_mm)
    joints: dict[str, list[int]] = {}
    for piece in pieces:
        if piece.from_mm in ends[piece.run]:
            joints.setdefault(piece.run, []).append(piece.from_mm)
    return {run: tuple(sorted(positions)) for run, positions in joints.items()}


def count_by_level(project: Project, pieces: Sequence[PlannedPiece]) -> Mapping[str, LevelCounts]:
    """Joints, brackets by code, anchors and tape of every level of the project, in delivery order; a level
    without pieces counts nothing. Where two runs meet is a joint of the joining run's level."""
    along = {run: GapAlongRun.of(gaps) for run, gaps in project.building.gaps.items()}
    runs, detail_of = project.building.runs, project.building.detail_of
    joints = dict.fromkeys((level.level for level in project.levels), 0)
    tape = dict(joints)
    for run, positions in joints_of(pieces).items():
        joints[runs[run].level] += len(positions)
        tape[runs[run].level] += sum(joint_tape_mm(detail_of(run), along[run], at) for at in positions)
    for junction in junctions_between(project, pieces):
        joints[junction.level] += 1
        tape[junction.level] += junction.tape_mm
    brackets: dict[str, dict[str, int]] = {level: {} for level in joints}
    anchors = dict.fromkeys(joints, 0)
    for piece in pieces:
        if piece.bracket is not None:
            of_level = brackets[piece.level]
            of_level[piece.bracket] = of_level.get(piece.bracket, 0) + len(piece.brackets_at_mm)
            anchors[piece.level] += len(piece.brackets_at_mm) * detail_of(piece.run).anchors_per_bracket
    return {
        level.level: LevelCounts(
            joints=joints[level.level],
            brackets=dict(sorted(brackets[level.level].items())),
            anchors=anchors[level.level],
            tape_mm=tape[level.level],
        )
        for level in project.levels_in_order()
    }
