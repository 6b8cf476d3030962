"""Rips thinner than the detail's `strip_min_mm`: each is in the plan's list, and no edge that strips could absorb."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from optimiser.checking.building import Building
from optimiser.checking.material import sheet_of
from optimiser.checking.strips import Sheet
from optimiser.model.planned_boards import PlannedPattern

Rip = tuple[int, str, int | None, str | None, int]
"""Pattern, kind, strip, piece and width in mm."""


def broken_rules_of_thin_rips(building: Building) -> Iterator[str]:
    """Every thin rip is listed, nothing else is, and no board's edge is too thin that its strips had room for."""
    found: Counter[Rip] = Counter()
    for number, layout in building.plan.numbered_layouts:
        sheet = sheet_of(building, layout)
        least = building.rules_of_cutting(layout.code).strip_min_mm
        if sheet is None or least <= 0:
            continue
        edge = _edge(building, layout, sheet)
        if 0 < edge < least:
            found[number, "edge", None, None, edge] += 1
            if _room_of_strips(building, layout, sheet) >= edge + sheet.kerf_mm:
                yield (
                    f"layout {number}: {edge} mm is ripped off the edge, less than strip_min_mm {least}, although its"
                    " strips may be wider by as much"
                )
        for at, strip in enumerate(layout.strips, start=1):
            if strip.width_mm < least:
                found[number, "strip", at, None, strip.width_mm] += 1
            for piece in strip.pieces:
                planned = building.pieces.get(piece.id)
                if planned is None or planned.tapered:
                    continue
                off = strip.width_mm - planned.cut_width_start_mm
                if 0 < off < least:
                    found[number, "trim", at, piece.id, off] += 1
    stated = Counter(
        (rip.layout, str(rip.kind), rip.strip, rip.piece, rip.width_mm) for rip in building.plan.thin_rips
    )
    for rip in found - stated:
        yield f"thin_rips: layout {rip[0]} rips {rip[4]} mm ({rip[1]}), less than strip_min_mm, but it is not listed"
    for rip in stated - found:
        yield f"thin_rips: layout {rip[0]} is said to rip {rip[4]} mm ({rip[1]}), but it does not"


def _edge(building: Building, layout: PlannedPattern, sheet: Sheet) -> int:
    """What is ripped off the far edge as scrap; 0 where nothing is, or where it is kept as a left-over."""
    strips = [strip.width_mm for strip in layout.strips]
    edge = sheet.width_mm - sum(strips) - sheet.kerf_mm * len(strips)
    is_kept = any(
        (rest.code, rest.stage, rest.length_mm, rest.width_mm)
        == (layout.code, layout.stage, sheet.length_mm, edge)
        for rest in building.plan.left_over
    )
    return 0 if is_kept else edge


def _room_of_strips(building: Building, layout: PlannedPattern, sheet: Sheet) -> int:
    """By how much the strips together may be wider: every piece that is cut as wide as its strip within its window,
    none in a strip that holds a tapered one or whose end is kept."""
    together = 0
    for strip in layout.strips:
        pieces = [building.pieces.get(piece.id) for piece in strip.pieces]
        known = [piece for piece in pieces if piece is not None and not piece.tapered]
        if len(known) < len(pieces):
            continue
        end = sheet.length_mm - sum(piece.length_mm for piece in known) - sheet.kerf_mm * len(known)
        if end > 0 and any(
            (rest.code, rest.stage, rest.length_mm, rest.width_mm)
            == (layout.code, layout.stage, end, strip.width_mm)
            for rest in building.plan.left_over
        ):
            continue
        free = [
            piece.width_max_mm - strip.width_mm
            for piece in known
            if piece.cut_width_start_mm == strip.width_mm
        ]
        together += max(0, min(free, default=0))
    return together
