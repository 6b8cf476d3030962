"""A kept plan's deliveries on their days, without its pieces."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any, Protocol

from api.pages.cut_on_site import cut_on_site
from api.pages.kept_plan import KeptPlan
from optimiser.ordering.broken_limits import Judged
from optimiser.ordering.dated_plan import DatedPlan


class Kept(Protocol):
    """Where a kept plan is read from."""

    @property
    def plan(self) -> KeptPlan:
        """The plan, its large tables late."""

    def with_tables(self, **tables: Any) -> KeptPlan:
        """The plan with some of its large tables as given."""


def dated_plan(source: Kept) -> DatedPlan | None:
    """A plan's deliveries; None where it has none, or where a level of the order has no day."""
    found = DatedPlan.of(source.with_tables(pieces=(), layouts=()))
    if found is None:
        return None
    cut = {one.code: one.counted for one in cut_on_site(source.plan)}
    return replace(found, plan=source.plan, floor=replace(found.floor, cut=cut))


def that_fit(
    others: Iterable[tuple[str, DatedPlan | None]], needs: Mapping[str, date], today: date
) -> tuple[str, ...]:
    """The names of those plans of which nothing breaks when levels are needed on these days ({}: as planned). That
    order dates passed is left aside."""
    found = []
    for name, dated in others:
        if dated is None:
            continue
        dates = dated.with_needs(needs) if needs else dated.planned
        if next(Judged(dated, dates, today, ordered=True).findings(), None) is None:
            found.append(name)
    return tuple(found)
