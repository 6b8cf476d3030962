"""Where the board area went, to the mm2: bought + stock cut = fitted + reusable offcut + scrap."""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.model.planned_boards import PlannedLeftOver, PlannedPattern, Waste
from optimiser.model.project import Project


def waste_of(
    project: Project,
    twice_fitted_mm2: int,
    layouts: Iterable[PlannedPattern],
    left_over: Iterable[PlannedLeftOver],
) -> Waste:
    """The waste account of a cut plan, in mm2.

    `twice_fitted_mm2` is twice the area of the pieces as they are cut: a tapered one counts the mean of its end
    widths. Kerf, trimmings and remainders too small for any piece are scrap; `scrap_fraction` is scrap / (bought +
    stock).
    """
    boards, on_site = project.building.boards, project.building.stock
    bought = stock = 0
    for layout in layouts:
        if layout.stock in on_site:
            stock += layout.repeat * on_site[layout.stock].size.area_mm2
        else:
            bought += layout.repeat * boards[layout.code].size.area_mm2
    fitted = twice_fitted_mm2 // 2
    reusable = sum(item.length_mm * item.width_mm * item.quantity for item in left_over)
    scrap = bought + stock - fitted - reusable
    return Waste(
        bought_mm2=bought,
        stock_mm2=stock,
        fitted_mm2=fitted,
        reusable_offcut_mm2=reusable,
        scrap_mm2=scrap,
        scrap_fraction=scrap / (bought + stock) if bought + stock else 0.0,
    )
