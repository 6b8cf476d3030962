"""What the plan of the gaps as they stand uses, at the levels that are measured and at those that are a forecast."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from optimiser.boards.cut import cut_pieces
from optimiser.boards.forecast_levels import forecast_levels
from optimiser.cutting.problem import CuttingPattern
from optimiser.errors.problems import CannotBeDone
from optimiser.joints.layout import LaidPiece, lay_out
from optimiser.model.plan import Staging
from optimiser.model.project import Project, Stock
from optimiser.takeoff.quantities import accessories_of


@dataclass(frozen=True)
class PlannedNeeds:
    """What a plan uses by product code: single boards, brackets and anchors, millimetres of tape.

    `stock` are the rows of the stock table with what the measured levels leave of them.
    """

    measured: Mapping[str, int]
    nominal: Mapping[str, int]
    stock: tuple[Stock, ...]

    @property
    def in_all(self) -> Counter[str]:
        """Both together."""
        return Counter(self.measured) + Counter(self.nominal)


def planned_needs(project: Project, staging: Staging, seed: int = 0) -> PlannedNeeds:
    """Lays out, cuts and counts a project as its plan does. Raises CannotBeDone when nothing can be planned."""
    laid = lay_out(project)
    if not laid.pieces:
        raise CannotBeDone(["nothing can be planned at the nominal gaps: barrier-orders plan says why"])
    cut = cut_pieces(project, laid.pieces, staging, None, seed, None)
    forecast = forecast_levels(project)
    waiting = {piece.id for piece in laid.pieces if piece.level in forecast}
    on_site = project.building.stock
    parts: tuple[Counter[str], Counter[str]] = Counter(), Counter()
    for layout in cut.layouts:
        if layout.stock not in on_site:
            parts[_any_of(layout, waiting)][layout.stock] += layout.repeat
    for part, nominal in zip(parts, (False, True), strict=True):
        part.update(_accessories(project, [p for p in laid.pieces if (p.level in forecast) == nominal]))
    return PlannedNeeds(parts[False], parts[True], stock_left(project, cut.layouts, waiting))


def stock_left(
    project: Project, layouts: Iterable[CuttingPattern], waiting: Iterable[str]
) -> tuple[Stock, ...]:
    """The stock that the layouts without a piece of a forecast level (their ids: `waiting`) leave whole."""
    ids = frozenset(waiting)
    taken: Counter[str] = Counter()
    for layout in layouts:
        if not _any_of(layout, ids):
            taken[layout.stock] += layout.repeat
    return tuple(
        row.model_copy(update={"quantity": row.quantity - taken[name]})
        for name, row in project.building.stock.items()
        if row.quantity > taken[name]
    )


def _any_of(layout: CuttingPattern, waiting: Iterable[str]) -> bool:
    return any(piece.id in waiting for strip in layout.strips for piece in strip.pieces)


def _accessories(project: Project, pieces: list[LaidPiece]) -> dict[str, int]:
    """Brackets by size, anchors and tape of laid pieces; what no product is for is left out."""
    counts = accessories_of(project, pieces)
    sizes = project.brackets
    found = dict(zip([size.code for size in sizes], counts.by_size(len(sizes)).tolist(), strict=True))
    anchor, tape = project.building.anchor, project.building.tape
    if anchor is not None:
        found[anchor.code] = counts.anchors
    if tape is not None:
        found[tape.code] = counts.tape_mm
    return {code: number for code, number in found.items() if number}
