"""A kept plan's deliveries on their days, without its pieces."""

from __future__ import annotations

from dataclasses import replace

from api.pages.cut_on_site import cut_on_site
from api.pages.kept_plan import Kept
from optimiser.ordering.dated_plan import DatedPlan


def dated_plan(source: Kept) -> DatedPlan | None:
    """A plan's deliveries; None where it has none, or where a level of the order has no day."""
    found = DatedPlan.of(source.with_tables(pieces=(), layouts=()))
    if found is None:
        return None
    cut = {one.code: one.counted for one in cut_on_site(source.plan)}
    return replace(found, plan=source.plan, floor=replace(found.floor, cut=cut))
