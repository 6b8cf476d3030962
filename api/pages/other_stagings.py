"""The plans of the same survey with other stagings: which of them keep the limits that a plan breaks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from api.accounts.service import Caller
from api.context import AppContext
from api.jobs.model import Job
from api.pages.dated import dated_plan
from api.pages.plan_source import source_of
from api.pages.words import STAGING
from api.plans.service import newest_by_staging
from optimiser.model.plan import Plan
from optimiser.ordering.fitting_days import plans_that_fit
from optimiser.writing.words import limits_not_kept


class OtherStagings:
    """The finished plans of a plan's survey whose staging is another."""

    def __init__(self, context: AppContext, caller: Caller, job: Job, staging: str) -> None:
        self._context, self._caller, self._staging = context, caller, staging
        found = newest_by_staging(context, caller, job.project_id, job.project_version)
        self._ids = {one: found[one] for one in STAGING if one in found and one != staging}

    def that_fit(self, needs: Mapping[str, date], today: date) -> dict[str, str]:
        """By staging the plan of which nothing breaks when levels are needed on these days ({}: as planned). That order
        dates passed is left aside: they pass alike with every staging."""
        plans = [
            (one, dated_plan(source_of(self._context, self._caller, plan_id)))
            for one, plan_id in self._ids.items()
        ]
        return {one: self._ids[one] for one in plans_that_fit(plans, needs, today, ordered=True)}

    def missing(self) -> tuple[str, ...]:
        """The stagings that were not planned yet."""
        return tuple(one for one in STAGING if one not in self._ids and one != self._staging)


@dataclass(frozen=True)
class WayOut:
    """Of a plan that does not keep its limits: by staging the plans that keep all of them, and the stagings that were
    not planned yet."""

    fitting: Mapping[str, str]
    missing: tuple[str, ...]


def way_out(context: AppContext, caller: Caller, job: Job, plan: Plan, today: date) -> WayOut | None:
    """Which other staging keeps what a plan does not; None where it keeps all of its limits."""
    if not limits_not_kept(plan):
        return None
    others = OtherStagings(context, caller, job, plan.staging)
    return WayOut(others.that_fit({}, today), others.missing())
