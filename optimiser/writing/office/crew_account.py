"""The crew's work as an account: how often each part of it, at the project's rates."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex
from optimiser.writing.drawing.step_cuts import step_cuts
from optimiser.writing.office.account import CENT


@dataclass(frozen=True)
class Work:
    """A part of the crew's work: how often, minutes each, and whether the rate is a placeholder."""

    name: str
    number: int
    minutes_each: Decimal
    rate: str
    placeholder: bool

    @property
    def hours(self) -> Decimal:
        """Of one person, to the hundredth."""
        return (self.number * self.minutes_each / 60).quantize(CENT, ROUND_HALF_UP)

    def cost(self, hour_cost: Decimal) -> Decimal:
        """At the cost of an hour, to the cent."""
        return (self.hours * hour_cost).quantize(CENT, ROUND_HALF_UP)


def crew_work(plan: Plan) -> tuple[Work, ...]:
    """What the crew does for the pieces that are open, counted from its own sheets, at the project's rates."""
    index = PlanIndex(plan)
    cuts: Counter[str] = Counter()
    for step in index.sequence.steps:
        cuts["taken"] += 1
        cuts.update(cut.kind for cut in step_cuts(index, step).cuts)
    open_pieces = [piece for piece in plan.pieces if not piece.done]
    unfitted = [piece for piece in plan.pieces if piece.status != "fitted"]
    rates = plan.project.crew_rates
    given = set(rates.model_fields_set)
    parts = (
        ("Measure gaps again, a piece", len(open_pieces), "measure_minutes"),
        ("Open boards, take remainders", cuts["taken"], "board_minutes"),
        ("Rips, trims and slants", cuts["rip"] + cuts["trim"] + cuts["slant"], "rip_minutes"),
        ("Cross-cuts", cuts["cross-cut"], "cross_cut_minutes"),
        ("Notches", sum(len(piece.notches_at_mm) for piece in open_pieces), "notch_minutes"),
        ("Brackets with anchors", sum(len(piece.brackets_at_mm) for piece in unfitted), "bracket_minutes"),
        ("Pieces fitted", len(unfitted), "piece_minutes"),
        ("Joints taped", sum(counts.joints for counts in plan.counts.values()), "joint_minutes"),
    )
    return tuple(
        Work(name, number, getattr(rates, rate), rate, rate not in given) for name, number, rate in parts
    )
