"""Where the board area went: bought and stock = fitted + reusable + scrap, to the square millimetre."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import isfinite

from optimiser.checking.building import Building
from optimiser.checking.figures import figure
from optimiser.checking.material import is_bought, sheet_of

ROUNDED = Fraction(1, 20_000)  # a share may be rounded to four places


def broken_rules_of_areas(building: Building) -> Iterator[str]:
    """The plan's waste, recomputed from its layouts, pieces and left-overs.

    The fitted area is exact but for the last half square millimetre: a taper's mean width may be a half.
    """
    waste = building.plan.waste
    bought = stock = 0
    for layout in building.plan.layouts:
        sheet = sheet_of(building, layout)
        area = layout.repeat * sheet.length_mm * sheet.width_mm if sheet else 0
        if is_bought(building, layout):
            bought += area
        else:
            stock += area
    fitted = Fraction(
        sum(p.length_mm * (p.cut_width_start_mm + p.cut_width_end_mm) for p in building.open_pieces), 2
    )
    reusable = sum(item.length_mm * item.width_mm * item.quantity for item in building.plan.left_over)
    for field, due in (
        ("bought_mm2", bought),
        ("stock_mm2", stock),
        ("fitted_mm2", fitted),
        ("reusable_offcut_mm2", reusable),
    ):
        stated = getattr(waste, field)
        if abs(stated - due) >= 1:
            yield f"waste: {field} must be {figure(due, '.10g')}, but is {stated}"
    fitted_and_more = waste.fitted_mm2 + waste.reusable_offcut_mm2 + waste.scrap_mm2
    if waste.bought_mm2 + waste.stock_mm2 != fitted_and_more:
        yield (
            f"waste: bought and stock are {waste.bought_mm2 + waste.stock_mm2} mm2, but fitted, reusable and"
            f" scrap {fitted_and_more} mm2"
        )
    if waste.scrap_mm2 < 0:
        yield f"waste: scrap_mm2 must not be negative, but is {waste.scrap_mm2}"
    total = waste.bought_mm2 + waste.stock_mm2
    share = Fraction(waste.scrap_mm2, total) if total > 0 else Fraction(0)
    if not isfinite(waste.scrap_fraction) or abs(Fraction(waste.scrap_fraction) - share) > ROUNDED:
        yield f"waste: scrap_fraction must be {figure(share, '.4f')}, but is {waste.scrap_fraction}"
