"""The allowance of each product on top of the cutting plan, as an exact fraction: breakage and loss, or simulated.

Where the `allowance` table says 'simulated', the tolerance simulation's quantity takes the place of the plan's: what
is on top is the difference of the two, so cutting waste is never counted twice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib import import_module
from typing import TYPE_CHECKING

from optimiser.plan import Staging
from optimiser.project import Project

if TYPE_CHECKING:
    from optimiser.order_quantities import OrderQuantity


@dataclass(frozen=True)
class Allowances:
    """By product code: 0.02 for a board means 2 boards on top of every 100. `warnings` are plain sentences."""

    fractions: dict[str, Fraction]
    warnings: tuple[str, ...] = ()


def allowances_of(
    project: Project, needed: Mapping[str, int], seed: int = 0, staging: Staging = "whole"
) -> Allowances:
    """The allowances of a plan. `needed` is what the whole plan uses of each code.

    Raises CannotBeDone when a simulated allowance cannot be computed.
    """
    fractions: dict[str, Fraction] = {}
    warnings: tuple[str, ...] = ()
    simulated = [row.kind for row in project.allowance if row.fraction == "simulated"]
    if simulated:
        # imported late: the simulation itself plans the nominal gaps
        simulation = import_module("optimiser.allowance")
        found = simulation.simulated_for_plan(project, needed, simulated, seed=seed, staging=staging)
        fractions.update({item.code: Fraction(item.extra, item.planned) for item in found if item.planned})
        warnings = tuple(_warnings(found))
    for row in project.allowance:
        if row.fraction != "simulated":
            for product in project.products_of(row.kind):
                fractions[product.code] = Fraction(row.fraction)
    return Allowances(fractions, warnings)


def _warnings(found: Sequence[OrderQuantity]) -> Iterator[str]:
    """A product that only the draws need has no line to stand on; one that the plan needs too much of is said."""
    absent = [item for item in found if not item.planned and item.order]
    if absent:
        listed = ", ".join(f"{item.order:,} {item.code}" for item in absent)
        yield (
            f"The nominal gaps' tolerances also call for products that this plan does not use, and its order does not"
            f" hold: {listed}. Order them beside it, or survey before ordering; barrier-orders allowance shows how"
            " likely each is."
        )
    fewer = [item for item in found if item.order < item.planned and item.kind == "bracket"]
    if fewer:
        listed = ", ".join(f"{item.planned:,} {item.code} where {item.order:,} would do" for item in fewer)
        yield (
            f"The plan of the nominal gaps orders more of some brackets than the draws need: {listed}."
            " Survey before ordering brackets."
        )
