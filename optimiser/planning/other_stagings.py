"""What the site's storage would have to hold with the other stagings: tried, by planning them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from optimiser.errors.broken_rules import BreaksRules
from optimiser.errors.problems import CannotBeDone
from optimiser.model.order import OnSite
from optimiser.model.plan import Plan, Staging
from optimiser.model.project import DeliveryLimits
from optimiser.ordering.delivery_warnings import StagingPeak

_STAGINGS: tuple[Staging, ...] = ("carry", "level", "whole")


def other_stagings(made_with: Callable[[Staging], Plan], tried: Staging) -> Iterator[StagingPeak]:
    """The most storage that each staging but the one `tried` already takes.

    `made_with` plans the project with a staging; one that cannot be planned is passed over.
    """
    for staging in _STAGINGS:
        if staging != tried:
            try:
                yield StagingPeak(staging, most_on_site(made_with(staging)))
            except (CannotBeDone, BreaksRules):
                continue


def most_on_site(made: Plan) -> int:
    """The most mm2 of storage taken on a day of delivery: floor where boards are stacked, else face area."""
    limits = made.project.delivery_limits or DeliveryLimits()
    arrivals = {delivery.deliver_on for delivery in made.deliveries}

    def taken(there: OnSite) -> int:
        return there.floor_mm2 if limits.stacked and there.floor_mm2 is not None else there.face_mm2

    return max((taken(there) for there in made.on_site if there.day in arrivals), default=0)
