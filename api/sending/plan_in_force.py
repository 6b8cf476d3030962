"""The names of the plan that the site works by, which is a project's newest finished one."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from api.accounts.service import Caller
from api.context import AppContext
from api.jobs.service import newest_done_job, result_of
from api.limited_process import run_limited
from optimiser.reading.plan_names import PlanNames

_MOST_KEPT = 32  # plans whose names are kept: a plan never changes
_kept: OrderedDict[str, PlanNames] = OrderedDict()
_lock = Lock()


def names_of_newest_plan(context: AppContext, caller: Caller, project_id: str) -> PlanNames | None:
    """What events of a project may name; None while it has no finished plan."""
    with context.storage.reading() as connection:
        newest = newest_done_job(connection, caller, project_id, "plan")
        if newest is None:
            return None
        with _lock:
            if newest.id in _kept:
                _kept.move_to_end(newest.id)
                return _kept[newest.id]
        document = result_of(connection, newest)
    if document is None:
        return None
    settings = context.settings
    found: PlanNames = run_limited(
        names_of, document.decode(), seconds=settings.parse_seconds, megabytes=settings.parse_megabytes
    )
    with _lock:
        _kept[newest.id] = found
        while len(_kept) > _MOST_KEPT:
            _kept.popitem(last=False)
    return found


def names_of(plan: str) -> PlanNames:
    """The names of a plan, as JSON text: runs in a limited process."""
    from optimiser.model.plan import Plan

    return PlanNames.of(Plan.model_validate_json(plan))
