"""Where runs meet, what each run is made of, and the brackets that stand farther than the detail says.

A junction is a joint wherever a piece ends with the run that joins and another begins with the run that is joined.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from optimiser.checking.building import Building, named
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Detail


@dataclass(frozen=True)
class Meeting:
    """A joint between two runs, on the level of the first: the wider of their gaps there, rounded up, and its tape."""

    run: str
    joins: str
    level: str
    gap_mm: int
    tape_mm: int


def meetings_of(building: Building, *, fitted: bool = False) -> list[Meeting]:
    """Every joint between two runs that the plan's pieces make (or those that are fitted), in the order of the joining
    runs."""
    found = []

    def counts(piece: PlannedPiece) -> bool:
        return not fitted or piece.status == "fitted"

    for run in building.project.runs:
        other = building.runs.get(run.joins)
        if other is None:
            continue
        ends = any(piece.to_mm == run.length_mm and counts(piece) for piece in _pieces(building, run.run))
        begins = any(piece.from_mm == 0 and counts(piece) for piece in _pieces(building, other.run))
        if not (ends and begins):
            continue
        detail = building.detail_of(run.run)
        here, there = building.gap_lines[run.run].at(run.length_mm), building.gap_lines[other.run].at(0)
        gap = ceil(here if here > there else there)
        tape = detail.tape_faces * (gap + 2 * detail.tape_lap_mm)
        found.append(Meeting(run.run, other.run, run.level, gap, tape))
    return found


def _pieces(building: Building, run: str) -> list[PlannedPiece]:
    return [stretch for stretch in building.along(run) if isinstance(stretch, PlannedPiece)]


def broken_rules_of_edges(building: Building) -> Iterator[str]:
    """Junctions listed as they are, one board a run, pieces short enough for their curve, moved brackets listed."""
    yield from _broken_junctions(building)
    yield from _mixed_boards(building)
    yield from _too_long_for_the_curve(building)
    yield from _broken_moved_brackets(building)


def _broken_junctions(building: Building) -> Iterator[str]:
    for run in building.project.runs:
        other = building.runs.get(run.joins)
        if run.joins and other is None:
            yield f"run {run.run}: it joins {run.joins}, and there is no such run"
        elif other is not None and other.level != run.level:
            yield f"run {run.run}: it joins {other.run} of level {other.level}, but is on level {run.level}"
    for name, count in Counter(run.joins for run in building.project.runs if run.joins).items():
        if count > 1:
            yield f"run {name}: {count} runs join it, but only one can end where it begins"
    due = Counter((one.run, one.joins, one.level, one.gap_mm, one.tape_mm) for one in meetings_of(building))
    said = Counter(
        (one.run, one.joins, one.level, one.gap_mm, one.tape_mm) for one in building.plan.junctions
    )
    for run_name, joins, level, gap, tape in due - said:
        yield (
            f"junctions: where run {run_name} ends and {joins} begins is a taped joint of level {level}, gap {gap} mm,"
            f" tape {tape} mm, but it is not listed so"
        )
    for run_name, joins, _, gap, tape in said - due:
        yield (
            f"junctions: a joint of {run_name} and {joins} with gap {gap} mm and tape {tape} mm is listed, but is not"
            " there"
        )


def _mixed_boards(building: Building) -> Iterator[str]:
    """A tested detail is for one board: no run mixes thicknesses or materials, in its table or in what is cut."""
    cut_from = {
        piece.id: layout.code
        for layout in building.plan.layouts
        for strip in layout.strips
        for piece in strip.pieces
    }
    for run in building.project.runs:
        codes = {*run.board, *(cut_from.get(piece.id, "") for piece in _pieces(building, run.run))}
        kinds = {
            code: (product.thickness_mm, product.material)
            for code in codes
            if (product := building.products.get(code)) is not None and product.kind == "board"
        }
        if len(set(kinds.values())) > 1:
            told = ", ".join(
                f"{code} {thickness or 'unknown'} mm{f' of {material}' if material else ''}"
                for code, (thickness, material) in sorted(kinds.items())
            )
            yield f"run {run.run}: its pieces must be of one thickness and material, but its boards are {told}"
    rules: dict[str, set[tuple[int, bool]]] = {}
    for run in building.project.runs:
        detail = building.detail_of(run.run)
        for code in run.board:
            rules.setdefault(code, set()).add((detail.kerf_mm, detail.trim))
    for code, several in rules.items():
        if len(several) > 1:
            yield f"board {code}: the details of the runs that it serves differ in kerf_mm or trim"


def _too_long_for_the_curve(building: Building) -> Iterator[str]:
    """A chord c of radius r leaves the arc by s where c2 = 8 r s - 4 s2."""
    for piece in building.plan.pieces:
        run = building.runs.get(piece.run)
        if run is None or run.radius_mm is None:
            continue
        offset = building.detail_of(run.run).curve_offset_max_mm
        if offset < run.radius_mm and piece.length_mm**2 > 8 * run.radius_mm * offset - 4 * offset**2:
            yield (
                f"{named(piece)}: with {piece.length_mm} mm its chord leaves the curve of radius {run.radius_mm} mm by"
                f" more than curve_offset_max_mm {offset}"
            )


def _broken_moved_brackets(building: Building) -> Iterator[str]:
    due: Counter[tuple[str, str, str, int, str, int, int]] = Counter()
    for piece in building.plan.pieces:
        if piece.brackets_at_mm:
            due.update(_beyond(piece, building.detail_of(piece.run)))
    said: Counter[tuple[str, str, str, int, str, int, int]] = Counter(
        (one.piece, one.run, one.level, one.at_mm, str(one.beyond), one.distance_mm, one.by_mm)
        for one in building.plan.brackets_moved
    )
    for piece_id, run, _, at, beyond, distance, by in due - said:
        yield (
            f"brackets_moved: the bracket of piece {piece_id} at {at} mm of run {run} stands {distance} mm away,"
            f" {by} mm beyond the {beyond}, but is not listed so"
        )
    for piece_id, run, _, at, beyond, distance, by in said - due:
        yield (
            f"brackets_moved: piece {piece_id} is listed with a bracket at {at} mm of run {run}, {distance} mm away and"
            f" {by} mm beyond the {beyond}, but none stands so"
        )
    for one in building.plan.brackets_moved:
        if not one.mend.strip():
            yield f"brackets_moved: the bracket of piece {one.piece} at {one.at_mm} mm must say what would mend it"


def _beyond(piece: PlannedPiece, detail: Detail) -> Iterator[tuple[str, str, str, int, str, int, int]]:
    """What is due of a piece: (piece, run, level, place on the run, what is passed, distance, by how much)."""
    of = piece.id, piece.run, piece.level
    at, end, spacing = piece.brackets_at_mm, detail.bracket_end_distance_mm, detail.bracket_spacing_max_mm
    for position, distance in ((at[0], at[0]), (at[-1], piece.length_mm - at[-1])):
        if distance > end:
            yield (*of, piece.from_mm + position, "end distance", distance, distance - end)
    for left, right in pairwise(at):
        if right - left > spacing:
            yield (*of, piece.from_mm + right, "spacing", right - left, right - left - spacing)
