"""The allowance for breakage and loss of each product, as an exact fraction on top of the cutting plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from importlib import import_module
from importlib.util import find_spec

from optimiser.project import Project
from optimiser.reading.problems import CannotBeDone


def allowance_fractions(project: Project, needed: Mapping[str, int], seed: int) -> dict[str, Fraction]:
    """The allowance by product code: 0.02 for a board means 2 boards on top of every 100.

    `needed` is what the whole plan uses of each code. Raises CannotBeDone when a kind asks for the simulated
    allowance where this cannot be computed.
    """
    fractions: dict[str, Fraction] = {}
    simulated = [row.kind for row in project.allowance if row.fraction == "simulated"]
    if simulated:
        fractions.update(_simulated(project, needed, simulated, seed))
    for row in project.allowance:
        if row.fraction != "simulated":
            for product in project.products_of(row.kind):
                fractions[product.code] = Fraction(row.fraction)
    return fractions


def _simulated(
    project: Project, needed: Mapping[str, int], kinds: Sequence[str], seed: int
) -> dict[str, Fraction]:
    """What the tolerance simulation of the nominal gaps says: the one place where a plan asks for it."""
    if find_spec("optimiser.allowance") is None:
        raise CannotBeDone(
            [
                f"the allowance of {' and '.join(kinds)} is 'simulated', which cannot be computed here: write"
                " a fraction such as 0.05 in the allowance table (barrier-orders allowance suggests one)"
            ]
        )
    simulation = import_module("optimiser.allowance")
    found: dict[str, Fraction] = simulation.simulated_fractions(project, needed, kinds, seed=seed)
    return found
