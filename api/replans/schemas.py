"""What a replan is asked with; what it makes is a plan like any other."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from optimiser.model.plan import Staging


class ReplanRequest(BaseModel):
    """How to plan the rest of a job."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"time_limit": 60, "seed": 0}})
    staging: Staging | None = Field(default=None, description="Null: as the plan that the site works by.")
    time_limit: float | None = Field(
        default=None, gt=0, le=600, description="Seconds for the solver; null: what the service gives, 120."
    )
    seed: int = Field(default=0, ge=0, le=2**31 - 1)
