"""Cut widths: the gap in the detail's range, the compression window over the whole span, tapers, notches."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.checking.building import Building, named
from optimiser.checking.figures import figure
from optimiser.checking.gap_line import GapLine
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Run


def broken_rules_of_widths(building: Building) -> Iterator[str]:
    """The gap range, the cut widths, and the mullions that a piece is notched around."""
    for piece in building.plan.pieces:
        if piece.status == "fitted":
            continue  # it is in its place: what was measured since does not change it
        run = building.runs.get(piece.run)
        if run is None or not 0 <= piece.from_mm < piece.to_mm <= run.length_mm:
            continue  # the cover rules name it
        line = building.gap_lines[piece.run]
        yield from _broken_gap(building, piece, line)
        if piece.tapered:
            yield from _broken_taper(building, piece, line)
        else:
            yield from _broken_window(piece, line)
        yield from _broken_notches(piece, run)


def _broken_gap(building: Building, piece: PlannedPiece, line: GapLine) -> Iterator[str]:
    detail = building.detail_of(piece.run)
    narrowest, widest = line.extremes(piece.from_mm, piece.to_mm)
    if narrowest < detail.gap_min_mm or widest > detail.gap_max_mm:
        yield (
            f"{named(piece)}: the gap must be {detail.gap_min_mm} to {detail.gap_max_mm} mm, but is"
            f" {figure(narrowest)} to {figure(widest)} mm; it must be listed as not planned"
        )
    for field, exact in (("gap_min_mm", narrowest), ("gap_max_mm", widest)):
        stated = getattr(piece, field)
        if abs(stated - exact) >= 1:
            yield f"{named(piece)}: {field} must be {figure(exact)} rounded, but is {stated}"


def _broken_window(piece: PlannedPiece, line: GapLine) -> Iterator[str]:
    least, most = line.window(piece.from_mm, piece.to_mm)
    width = piece.cut_width_start_mm
    if not least <= width <= most:
        yield f"{named(piece)}: its cut width must be {least} to {most} mm, but is {width} mm"
    if not least <= piece.width_min_mm <= width <= piece.width_max_mm <= most:
        yield (
            f"{named(piece)}: its window {piece.width_min_mm} to {piece.width_max_mm} mm must hold the cut"
            f" width {width} mm and lie within {least} to {most} mm"
        )


def _broken_taper(building: Building, piece: PlannedPiece, line: GapLine) -> Iterator[str]:
    start, end = piece.from_mm, piece.to_mm
    widths = piece.cut_width_start_mm, piece.cut_width_end_mm
    detail = building.detail_of(piece.run)
    if abs(widths[0] - widths[1]) > detail.taper_max_mm:
        yield (
            f"{named(piece)}: it is tapered from {widths[0]} to {widths[1]} mm, which differ by more than taper_max_mm"
            f" {detail.taper_max_mm}"
        )
    if line.single_width_serves(start, end):
        yield (
            f"{named(piece)}: it is tapered from {widths[0]} to {widths[1]} mm, although one width,"
            f" {line.window(start, end)[0]} mm, serves all of it"
        )
    if not line.straight_fits(start, end, *widths):
        yield (
            f"{named(piece)}: cut straight from {widths[0]} to {widths[1]} mm it leaves"
            " the limits of its gap,"
            f" {figure(line.at(start))} mm at its start and {figure(line.at(end))} mm at its end"
        )
    if (piece.width_min_mm, piece.width_max_mm) != (max(widths), max(widths)):
        yield (
            f"{named(piece)}: the window of a tapered piece is its wider end, {max(widths)} mm, but it says"
            f" {piece.width_min_mm} to {piece.width_max_mm} mm"
        )


def _broken_notches(piece: PlannedPiece, run: Run) -> Iterator[str]:
    inside = {mullion for mullion in run.mullions_mm if piece.from_mm < mullion < piece.to_mm}
    at_an_end = {mullion for mullion in run.mullions_mm if mullion in (piece.from_mm, piece.to_mm)}
    stated = set(piece.mullions_at_mm)
    if not inside <= stated <= inside | at_an_end or len(stated) != len(piece.mullions_at_mm):
        yield (
            f"{named(piece)}: its mullions stand at {_listed(sorted(inside))} mm of the run, but it says"
            f" {_listed(piece.mullions_at_mm)}"
        )
    notches = [mullion - piece.from_mm for mullion in piece.mullions_at_mm]
    if sorted(piece.notches_at_mm) != sorted(notches):
        yield (
            f"{named(piece)}: its notches must be at {_listed(notches)} mm from its start, but are at"
            f" {_listed(piece.notches_at_mm)}"
        )
    sized = sorted((notch.at_mm, notch.width_mm, notch.depth_mm) for notch in piece.notches)
    measured = run.mullion_width_mm is not None or run.mullion_depth_mm is not None
    if (sized or measured) and sized != sorted(
        (at, run.mullion_width_mm, run.mullion_depth_mm) for at in notches
    ):
        yield (
            f"{named(piece)}: each notch must be {run.mullion_width_mm} mm wide and {run.mullion_depth_mm} mm deep at"
            f" {_listed(notches)} mm, but its notches are {_listed([notch.words for notch in piece.notches])}"
        )


def _listed(positions: object) -> str:
    return (
        ", ".join(map(str, positions)) or "none" if isinstance(positions, (list, tuple)) else str(positions)
    )
