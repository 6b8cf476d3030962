"""Pieces cover every run end to end, none too long, none needlessly short, no joint near a mullion."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from optimiser.checking.building import Building, Stretch, clear_of_mullions, named
from optimiser.model.planned_pieces import NotPlanned, PlannedPiece
from optimiser.model.project import Run


def broken_rules_of_cover(building: Building) -> Iterator[str]:
    """Cover of the runs, lengths, joints, and stretches left out without need."""
    for name, count in Counter(piece.id for piece in building.plan.pieces).items():
        if count > 1:
            yield f"piece {name}: {count} pieces have this id"
    for piece in building.plan.pieces:
        yield from _broken_references(building, piece)
    for left_out in building.plan.not_planned:
        yield from _broken_not_planned(building, left_out)
    for run in building.project.runs:
        stretches = building.along(run.run)
        yield from _broken_tiling(run, stretches)
        for at, stretch in enumerate(stretches):
            before = stretches[at - 1] if at else None
            after = stretches[at + 1] if at + 1 < len(stretches) else None
            if isinstance(stretch, PlannedPiece):
                yield from _broken_length(building, run, stretch, before, after)
            else:
                yield from _needlessly_left_out(building, run, stretch, before, after)
    for left, right in building.joints():
        run_of = building.runs.get(left.run)
        distance = building.detail_of(left.run).joint_to_mullion_min_mm
        if run_of and not clear_of_mullions(left.to_mm, run_of, distance):
            nearest = min(run_of.mullions_mm, key=lambda mullion: abs(mullion - left.to_mm))
            yield (
                f"run {left.run}: the joint of {left.id} and {right.id} at {left.to_mm} mm must be at least"
                f" {distance} mm from every mullion, but one stands at {nearest} mm"
            )


def _broken_references(building: Building, piece: PlannedPiece) -> Iterator[str]:
    run = building.runs.get(piece.run)
    if run is None:
        yield f"{named(piece)}: the project has no such run"
        return
    if piece.level != run.level:
        yield f"{named(piece)}: the run is on level {run.level}, but the piece says {piece.level}"
    if not piece.boards:
        yield f"{named(piece)}: no board is named that it may be cut from"
    for code in piece.boards:
        if code not in run.board:
            yield f"{named(piece)}: the run may be served by {', '.join(run.board)}, not by {code}"
    bases = building.bases[piece.run]
    if piece.basis not in bases:
        yield f"{named(piece)}: its run's gaps are all {min(bases)}, but the piece says {piece.basis}"


def _broken_not_planned(building: Building, stretch: NotPlanned) -> Iterator[str]:
    place = f"run {stretch.run}, not planned {stretch.from_mm} to {stretch.to_mm} mm"
    run = building.runs.get(stretch.run)
    if run is None:
        yield f"{place}: the project has no such run"
        return
    if stretch.level != run.level:
        yield f"{place}: the run is on level {run.level}, but it says {stretch.level}"
    if not (stretch.reason.strip() and stretch.mend.strip()):
        yield f"{place}: it must say why and what would fix it"
    if not 0 <= stretch.from_mm <= stretch.to_mm <= run.length_mm:
        yield f"{place}: it must lie within the run, 0 to {run.length_mm} mm"


def _broken_tiling(run: Run, stretches: Sequence[Stretch]) -> Iterator[str]:
    reached = 0
    for stretch in stretches:
        name = stretch.id if isinstance(stretch, PlannedPiece) else "a stretch not planned"
        if stretch.to_mm <= stretch.from_mm:
            yield (
                f"run {run.run}, {name}: it must end after {stretch.from_mm} mm, but ends at"
                f" {stretch.to_mm} mm"
            )
        if stretch.from_mm > reached:
            yield f"run {run.run}: nothing covers {reached} to {stretch.from_mm} mm"
        elif stretch.from_mm < reached:
            yield (
                f"run {run.run}, {name}: it begins at {stretch.from_mm} mm, where the run is covered up to"
                f" {reached} mm already"
            )
        reached = max(reached, stretch.to_mm)
    if reached < run.length_mm:
        yield f"run {run.run}: nothing covers {reached} to {run.length_mm} mm"
    elif reached > run.length_mm:
        yield f"run {run.run}: it is {run.length_mm} mm long, but covered up to {reached} mm"


def _broken_length(
    building: Building, run: Run, piece: PlannedPiece, before: Stretch | None, after: Stretch | None
) -> Iterator[str]:
    lengths = [product.length_mm for product in building.boards_of(run) if product.code in piece.boards]
    if lengths and piece.length_mm > max(lengths):
        yield f"{named(piece)}: it is {piece.length_mm} mm long, but its board only {max(lengths)} mm"
    shortest = building.detail_of(run.run).piece_length_min_mm
    if 0 < piece.length_mm < shortest:
        mend = _way_to_lengthen(building, run, piece, before, after)
        if mend:
            yield (
                f"{named(piece)}: it is {piece.length_mm} mm long, but must be at least {shortest} mm where"
                f" the run allows, and {mend}"
            )


def _way_to_lengthen(
    building: Building, run: Run, piece: PlannedPiece, before: Stretch | None, after: Stretch | None
) -> str | None:
    """How a short piece could be joined with a neighbour, or take from it; None when neither may be.

    Only such plain changes are tried: a stretch that holds no better layout at all passes anyway.
    """
    shortest = building.detail_of(run.run).piece_length_min_mm
    distance = building.detail_of(run.run).joint_to_mullion_min_mm
    if isinstance(before, PlannedPiece) and before.to_mm == piece.from_mm and before.length_mm > 0:
        both = piece.tapered and before.tapered
        if piece_could_be(building, run, before.from_mm, piece.to_mm, taper=both):
            return f"it could be one with {before.id}"
        joint = piece.to_mm - shortest
        if (
            joint - before.from_mm >= shortest
            and clear_of_mullions(joint, run, distance)
            and piece_could_be(building, run, joint, piece.to_mm, taper=piece.tapered)
            and piece_could_be(building, run, before.from_mm, joint, taper=before.tapered)
        ):
            return f"the joint with {before.id} could be at {joint} mm"
    if isinstance(after, PlannedPiece) and after.from_mm == piece.to_mm and after.length_mm > 0:
        both = piece.tapered and after.tapered
        if piece_could_be(building, run, piece.from_mm, after.to_mm, taper=both):
            return f"it could be one with {after.id}"
        joint = piece.from_mm + shortest
        if (
            after.to_mm - joint >= shortest
            and clear_of_mullions(joint, run, distance)
            and piece_could_be(building, run, piece.from_mm, joint, taper=piece.tapered)
            and piece_could_be(building, run, joint, after.to_mm, taper=after.tapered)
        ):
            return f"the joint with {after.id} could be at {joint} mm"
    return None


def piece_could_be(building: Building, run: Run, start: int, end: int, taper: bool) -> bool:
    """Whether one piece over a span would keep every rule that its own length and width can break."""
    line, detail = building.gap_lines[run.run], building.detail_of(run.run)
    narrowest, widest = line.extremes(start, end)
    if narrowest < detail.gap_min_mm or widest > detail.gap_max_mm:
        return False
    boards = [board for board in building.boards_of(run) if board.length_mm >= end - start]
    if run.radius_mm is not None and detail.curve_offset_max_mm < run.radius_mm:
        offset = detail.curve_offset_max_mm
        if (end - start) ** 2 > 4 * offset * (2 * run.radius_mm - offset):
            return False
    width = max((board.width_mm for board in boards), default=0)
    least, most = line.window(start, end)
    if least <= min(most, width):
        return True
    return (
        taper
        and least <= width
        and not line.single_width_serves(start, end)
        and line.straight_exists(start, end, detail.taper_max_mm)
    )


def _needlessly_left_out(
    building: Building, run: Run, stretch: NotPlanned, before: Stretch | None, after: Stretch | None
) -> Iterator[str]:
    """A stretch that one plain piece could cover, joints and all, must not be left out."""
    start, end = stretch.from_mm, stretch.to_mm
    if not 0 <= start < end <= run.length_mm:
        return
    neighbours = [other for other in (before, after) if isinstance(other, PlannedPiece)]
    if end - start < building.detail_of(run.run).piece_length_min_mm and neighbours:
        return
    joints = [at for at, other in ((start, before), (end, after)) if isinstance(other, PlannedPiece)]
    distance = building.detail_of(run.run).joint_to_mullion_min_mm
    if all(clear_of_mullions(at, run, distance) for at in joints) and piece_could_be(
        building, run, start, end, taper=False
    ):
        yield (
            f"run {run.run}, not planned {start} to {end} mm: one piece could cover it, with its gap in range"
            " and a width that serves"
        )
