"""Comparisons and simulations as the HTTP interface shows them."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from api.problem_details import ProblemDetails


class ComparisonRequest(BaseModel):
    """Which nominal gaps to compare: every `step_mm` from `from_mm` to `to_mm`."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"example": {"from_mm": 120, "to_mm": 180, "step_mm": 5}}
    )
    from_mm: int = Field(ge=1, le=2000)
    to_mm: int = Field(ge=1, le=2000)
    step_mm: int = Field(default=1, ge=1, le=2000)

    @model_validator(mode="after")
    def _in_order(self) -> ComparisonRequest:
        if self.from_mm > self.to_mm:
            raise ValueError(f"from_mm ({self.from_mm}) is above to_mm ({self.to_mm}): swap them")
        return self


class AllowanceRequest(BaseModel):
    """How to simulate the tolerances of nominal gaps."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"example": {"draws": 500, "seed": 0, "service_level": 0.95}}
    )
    draws: int = Field(default=500, ge=1, le=20_000)
    seed: int = Field(default=0, ge=0, le=2**31 - 1)
    service_level: float = Field(default=0.95, gt=0, lt=1)


class StudySummary(BaseModel):
    """A comparison or simulation: its status as a plan's."""

    id: str
    kind: Literal["comparison", "allowance"]
    project_id: str
    project_version: int
    status: Literal["queued", "running", "done", "failed", "cancelled"]
    step: str | None
    fraction: float | None
    request: dict[str, Any]
    created_at: str
    created_by: str
    started_at: str | None
    finished_at: str | None
    error: ProblemDetails | None


class KeptStudy(StudySummary):
    """A comparison or simulation; `result` holds what it found once it is done."""

    result: dict[str, Any] | None = None


def summary_of(row: Any) -> StudySummary:
    """A row of `jobs` of the kind 'comparison' or 'allowance'."""
    return StudySummary(
        id=row.id,
        kind=row.kind,
        project_id=row.project_id,
        project_version=row.project_version,
        status=row.status,
        step=row.step,
        fraction=row.fraction,
        request=json.loads(row.parameters),
        created_at=row.created_at,
        created_by=row.created_by,
        started_at=row.started_at,
        finished_at=row.finished_at,
        error=ProblemDetails.model_validate(json.loads(row.error)) if row.error else None,
    )
