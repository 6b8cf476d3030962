"""Plans as the HTTP interface shows them."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.jobs.schemas import EXAMPLE, JobSummary, members_of
from optimiser.plan import Plan


class PlanRequest(BaseModel):
    """How to plan a project."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"staging": "carry", "seed": 0}})
    staging: Literal["whole", "carry", "level"] = Field(
        default="whole", description="Whether a level's offcuts serve any later level, near ones, or none."
    )
    time_limit: float | None = Field(
        default=None, gt=0, le=600, description="Seconds for the solver; null: what the service gives, 120."
    )
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


class PlanSummary(JobSummary):
    """A plan that is made in the background, without its tables."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                **EXAMPLE,
                "request": {"staging": "whole", "time_limit": None, "seed": 0},
                "figures": None,
            }
        }
    )
    request: PlanRequest
    figures: PlanFigures | None


class KeptPlan(PlanSummary):
    """A plan; `plan` holds its tables once it is done."""

    plan: Plan | None = None


def summary_of(row: Any) -> PlanSummary:
    """A row of `jobs` of the kind 'plan'."""
    return PlanSummary(
        **members_of(row),
        request=PlanRequest.model_validate_json(row.parameters),
        figures=PlanFigures.model_validate_json(row.summary) if row.summary else None,
    )
