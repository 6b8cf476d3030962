"""Asking for comparisons, simulations and frontiers, and finding the newest of each."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Literal

from api.accounts.service import Caller
from api.context import AppContext
from api.jobs import service as jobs
from api.jobs.model import Job
from api.studies.schemas import StudyRequest, StudySummary, summary_of

StudyKind = Literal["comparison", "allowance", "frontier"]
AnyStudy = Literal[StudyKind, "scenario"]
"""Scenarios are asked for by a service of their own."""


@dataclass(frozen=True)
class Study:
    """A comparison, simulation or frontier; `result` once it is done."""

    summary: StudySummary
    result: dict[str, Any] | None


def request_study(
    context: AppContext,
    caller: Caller,
    project_id: str,
    kind: StudyKind,
    wanted: StudyRequest,
    idempotency_key: str | None,
) -> Job:
    """A new study of the project's newest version, or the one that an equal request made before.

    Raises Problem 404 when the caller's company has no such project.
    """
    return jobs.request_job(context, caller, project_id, kind, wanted.model_dump(), idempotency_key)


def request_study_of_plan(
    context: AppContext,
    caller: Caller,
    plan_id: str,
    kind: StudyKind,
    wanted: StudyRequest,
) -> Job:
    """A new study of the version of the project that a plan was made of. Raises Problem 404."""
    plan = jobs.get_job(context, caller, plan_id, "plan")
    return jobs.request_job(
        context, caller, plan.project_id, kind, wanted.model_dump(), None, plan.project_version
    )


def newest_study(context: AppContext, caller: Caller, project_id: str, kind: StudyKind) -> Study | None:
    """The newest study of a kind of the caller's project."""
    found = jobs.newest_job(context, caller, project_id, kind)
    if found is None:
        return None
    row, document = found
    return Study(summary_of(row), json.loads(document) if document else None)
