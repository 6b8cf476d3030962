"""What is on order and still to come: a plan of a job's rest orders, and has delivered, only what goes beyond it."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.errors.listed import listed
from optimiser.model.plan import Plan
from optimiser.replanning.receiving import received_lines

_MANY = 8  # levels spelt out in one sentence before 'and n more'


def still_to_come(plan: Plan) -> Iterator[str]:
    """A warning where something is on order, and not on record as delivered, for levels that are not cut yet: those
    deliveries are no longer among the plan's own."""
    open_levels = {piece.level for piece in plan.pieces if not piece.done}
    waits = {line.level for line in received_lines(plan) if line.on_order and line.level in open_levels}
    if not waits:
        return
    building = plan.project.building
    names = [
        f"{name} (needed on {day})" if (day := building.levels[name].needed_on) else name
        for name in building.in_delivery_order(waits)
    ]
    nothing = "" if any(line.packs for line in plan.order.lines) else "Nothing more must be ordered. "
    yield (
        f"{nothing}On order, and not on record as delivered: what is for {listed(names, _MANY)}. The list of"
        " deliveries and the calendar of this plan do not have them: they are of what must be ordered beyond it."
    )
