"""What stands on the rack once each delivery is cut."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from optimiser.model.staging import DeliverySequence
from optimiser.writing.drawing.plan_index import PlanIndex


@dataclass(frozen=True)
class RackAccount:
    """What is kept once a delivery is cut: the remainders that wait, and the left-overs so far."""

    levels: tuple[str, ...]
    remainders: int
    area_mm2: Fraction
    left_overs_mm2: int


def racks(index: PlanIndex) -> tuple[RackAccount, ...]:
    """The rack after each delivery of a plan that is cut."""
    found: list[RackAccount] = []
    kept = 0
    for stage in map(DeliverySequence, index.levels_of_stage):
        steps = index.sequence.with_delivery(stage)
        kept += sum(rest.length_mm * rest.width_mm for step in steps for rest in step.left_overs)
        waiting = index.sequence.on_rack_after(stage)
        area = sum((part.area_mm2 for part in waiting), Fraction(0))
        found.append(RackAccount(index.levels_of_stage[stage], len(waiting), area, kept))
    return tuple(found)
