"""Plans as the HTTP interface shows them."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.problem_details import ProblemDetails
from optimiser.plan import Plan


class PlanRequest(BaseModel):
    """How to plan a project."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"staging": "carry", "seed": 0}})
    staging: Literal["whole", "carry", "level"] = Field(
        default="whole", description="Whether a level's offcuts serve any later level, near ones, or none."
    )
    time_limit: float | None = Field(default=None, gt=0, le=600, description="Seconds for the solver.")
    seed: int = Field(default=0, ge=0, le=2**31 - 1)


class PlanFigures(BaseModel):
    """The figures of a finished plan that a list shows."""

    boards: int
    lower_bound: int
    pieces: int
    layouts: int
    not_planned: int
    scrap_fraction: float
    total: str
    currency: str


class PlanSummary(BaseModel):
    """A plan that is made in the background, without its tables."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "id": "7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d",
                "project_id": "5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f",
                "project_version": 3,
                "status": "running",
                "step": "cut",
                "fraction": 0.4,
                "request": {"staging": "whole", "time_limit": None, "seed": 0},
                "created_at": "2027-02-03T09:31:00.000000Z",
                "created_by": "local user",
                "started_at": "2027-02-03T09:31:00.210000Z",
                "finished_at": None,
                "figures": None,
                "error": None,
            }
        }
    )
    id: str
    project_id: str
    project_version: int
    status: Literal["queued", "running", "done", "failed", "cancelled"]
    step: str | None = Field(description="What the planner is doing, or did last.")
    fraction: float | None = Field(description="How much of the whole is done, 0 to 1, as far as is known.")
    request: PlanRequest
    created_at: str
    created_by: str
    started_at: str | None
    finished_at: str | None
    figures: PlanFigures | None
    error: ProblemDetails | None = Field(description="Why it failed.")


class KeptPlan(PlanSummary):
    """A plan; `plan` holds its tables once it is done."""

    plan: Plan | None = None


def summary_of(row: Any) -> PlanSummary:
    """A row of `jobs` of the kind 'plan'."""
    return PlanSummary(
        id=row.id,
        project_id=row.project_id,
        project_version=row.project_version,
        status=row.status,
        step=row.step,
        fraction=row.fraction,
        request=PlanRequest.model_validate_json(row.parameters),
        created_at=row.created_at,
        created_by=row.created_by,
        started_at=row.started_at,
        finished_at=row.finished_at,
        figures=PlanFigures.model_validate_json(row.summary) if row.summary else None,
        error=ProblemDetails.model_validate(json.loads(row.error)) if row.error else None,
    )
