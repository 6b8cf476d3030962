"""What the HTTP interface shows of every job, whatever it makes."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import Query
from pydantic import BaseModel, Field

from api.http.moments import Moment
from api.http.problem_details import ProblemDetails
from api.jobs.model import Status

OfStatus = Annotated[Status | None, Query(description="Only those of this status.")]


class JobSummary(BaseModel):
    """A job's status: whose project it works on, how far it is, and why it failed."""

    id: str
    project_id: str
    project_version: int
    status: Status
    step: str | None = Field(description="What is being done, or was done last.")
    fraction: float | None = Field(description="How much of the whole is done, 0 to 1, as far as is known.")
    created_at: Moment
    created_by: str
    started_at: Moment | None
    finished_at: Moment | None
    error: ProblemDetails | None = Field(description="Why it failed.")


EXAMPLE: dict[str, Any] = {
    "id": "7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d",
    "project_id": "5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f",
    "project_version": 3,
    "status": "running",
    "step": "plan",
    "fraction": 0.4,
    "created_at": "2027-02-03T09:31:00.000000Z",
    "created_by": "this machine",
    "started_at": "2027-02-03T09:31:00.210000Z",
    "finished_at": None,
    "error": None,
}


def members_of(row: Any) -> dict[str, Any]:
    """The members of a `JobSummary` from a row of `jobs`."""
    names = JobSummary.model_fields.keys() - {"error"}
    error = ProblemDetails.model_validate(json.loads(row.error)) if row.error else None
    return {**{name: getattr(row, name) for name in names}, "error": error}
