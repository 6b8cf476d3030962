"""Rips thinner than the detail's `strip_min_mm`: strips grow inside the windows of their pieces until none is left,
and what cannot be absorbed so is listed.

A thin sliver of mineral wool tears before it is ripped off (common practice, no source). Boards, deliveries and what
waits stay as they are: only widths change, so the cutting's bounds hold as before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from optimiser.boards.family_cuts import Cut
from optimiser.boards.offcuts import taken_mm
from optimiser.cutting.problem import CutPiece, Strip
from optimiser.joints.layout import LaidPiece
from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern, ThinRip, numbered
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import Project
from optimiser.model.sizes import Size

Kept = frozenset[tuple[str, int, int, int]]
"""(code, stage, length, width) of the left-overs that are kept."""


def with_thin_rips_absorbed(project: Project, pieces: Sequence[LaidPiece], cut: Cut) -> Cut:
    """The cut with wider strips wherever that spares a rip thinner than `strip_min_mm`; the same where none is asked
    for. `pieces` are those that are cut; widths in mm stay within their windows."""
    windows = {piece.id: piece.width_max_mm for piece in pieces if not piece.tapered}
    usable = min((piece.width_min_mm for piece in pieces), default=0)
    left_over, widths = list(cut.left_over), dict(cut.widths)
    layouts = []
    for layout in cut.layouts:
        rules = project.building.cutting_rules_of(layout.code)
        if rules.strip_min_mm and layout.repeat == 1:
            size = project.building.size_of_stock[layout.stock]
            board = _Board(layout, size, rules.kerf_mm, rules.strip_min_mm, windows, kept_sizes(left_over))
            growth = board.growth(usable)
            if any(growth):
                if board.keeps_its_edge:
                    _narrow(left_over, layout, size.length_mm, board.rest, sum(growth))
                wider = [
                    _wider(strip, more, widths) for strip, more in zip(layout.strips, growth, strict=True)
                ]
                layout = layout.model_copy(update={"strips": tuple(wider)})
        layouts.append(layout)
    return replace(cut, layouts=tuple(layouts), widths=widths, left_over=tuple(left_over))


def kept_sizes(left_over: Sequence[PlannedLeftOver]) -> Kept:
    """The sizes that a plan keeps, by code and delivery."""
    return frozenset((rest.code, rest.stage, rest.length_mm, rest.width_mm) for rest in left_over)


def free_width(layout: PlannedPattern, width_mm: int, kerf_mm: int) -> int:
    """What a board's strips leave of its width, in mm, before the saw takes its part of it."""
    ripped = sum(strip.width_mm for strip in layout.strips)
    return width_mm - ripped - kerf_mm * max(0, len(layout.strips) - 1)


def thin_rips(
    project: Project,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[PlannedPattern],
    left_over: Sequence[PlannedLeftOver],
) -> tuple[ThinRip, ...]:
    """Every rip of a plan that is thinner than its board's `strip_min_mm`, board by board: what is ripped off the edge
    (nothing where it is kept as a left-over), a strip itself, and what is trimmed beside a straight piece."""
    widths = {piece.id: piece.cut_width_start_mm for piece in pieces if not piece.tapered}
    kept = kept_sizes(left_over)
    found: list[ThinRip] = []
    for number, layout in numbered(layouts):
        rules = project.building.cutting_rules_of(layout.code)
        least = rules.strip_min_mm
        if not least:
            continue
        size = project.building.size_of_stock[layout.stock]
        rest = free_width(layout, size.width_mm, rules.kerf_mm) - rules.kerf_mm
        if 0 < rest < least and (layout.code, layout.stage, size.length_mm, rest) not in kept:
            found.append(ThinRip(layout=number, kind="edge", width_mm=rest))
        for place, strip in enumerate(layout.strips, start=1):
            if strip.width_mm < least:
                found.append(ThinRip(layout=number, kind="strip", strip=place, width_mm=strip.width_mm))
            for piece in strip.pieces:
                trimmed = strip.width_mm - widths.get(piece.id, strip.width_mm)
                if 0 < trimmed < least:
                    found.append(
                        ThinRip(layout=number, kind="trim", strip=place, piece=piece.id, width_mm=trimmed)
                    )
    return tuple(found)


@dataclass(frozen=True)
class _Board:
    """A board as it is cut, with what its strips may grow by: windows are the widest that straight pieces may be."""

    layout: PlannedPattern
    size: Size
    kerf: int
    least: int
    windows: Mapping[str, int]
    kept: Kept

    @property
    def free(self) -> int:
        """What the strips leave of the width, before the saw takes its part."""
        return free_width(self.layout, self.size.width_mm, self.kerf)

    @property
    def rest(self) -> int:
        """What is ripped off the edge."""
        return self.free - self.kerf

    @property
    def keeps_its_edge(self) -> bool:
        """Whether the rest is kept as a left-over."""
        return (self.layout.code, self.layout.stage, self.size.length_mm, self.rest) in self.kept

    def growth(self, usable: int) -> list[int]:
        """By how much each strip grows: thin ones to the least where there is room, then as few as can be, so that
        nothing is left to be ripped off the edge where that would be too thin. A left-over stays at least `usable`
        wide."""
        room = [self._room(strip) for strip in self.layout.strips]
        growth = [0] * len(room)
        free = self.free
        spare = self.rest - usable if self.keeps_its_edge else free
        for place, strip in enumerate(self.layout.strips):
            more = self.least - strip.width_mm
            if 0 < more <= min(room[place], spare):
                growth[place] += more
                room[place] -= more
                free -= more
                spare -= more
        if not self.keeps_its_edge and 0 < free - self.kerf < self.least and sum(room) >= free:
            for place in sorted(range(len(room)), key=lambda place: (-room[place], place)):
                more = min(room[place], free)
                growth[place] += more
                free -= more
        return growth

    def _room(self, strip: Strip) -> int:
        """By how much a strip may grow: as far as its full-width pieces' windows; not at all with a tapered piece,
        whose slant would leave its corner, nor where its end is kept as a left-over of its size."""
        if any(piece.id not in self.windows for piece in strip.pieces):
            return 0
        end = self.size.length_mm - taken_mm(strip, self.kerf)
        if end > 0 and (self.layout.code, self.layout.stage, end, strip.width_mm) in self.kept:
            return 0
        full = [self.windows[piece.id] for piece in strip.pieces if piece.width_mm == strip.width_mm]
        return min(full) - strip.width_mm if full else 0


def _narrow(
    left_over: list[PlannedLeftOver], layout: PlannedPattern, length: int, width: int, by_mm: int
) -> None:
    """One left-over of a board's edge becomes narrower."""
    key = layout.code, layout.stage, length, width
    place = next(
        at
        for at, rest in enumerate(left_over)
        if (rest.code, rest.stage, rest.length_mm, rest.width_mm) == key
    )
    was = left_over.pop(place)
    if was.quantity > 1:
        left_over.insert(place, was.model_copy(update={"quantity": was.quantity - 1}))
    left_over.insert(place, was.model_copy(update={"quantity": 1, "width_mm": width - by_mm}))


def _wider(strip: Strip, more: int, widths: dict[str, int]) -> Strip:
    """A strip that is `more` mm wider, its full-width pieces with it; their new widths go into `widths`."""
    if not more:
        return strip
    pieces: list[CutPiece] = []
    for piece in strip.pieces:
        if piece.width_mm == strip.width_mm:
            piece = piece.model_copy(update={"width_mm": piece.width_mm + more})
            widths[piece.id] = piece.width_mm
        pieces.append(piece)
    return strip.model_copy(update={"width_mm": strip.width_mm + more, "pieces": tuple(pieces)})
