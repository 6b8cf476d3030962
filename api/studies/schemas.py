"""Comparisons, simulations and frontiers as the HTTP interface shows them."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from api.jobs.schemas import EXAMPLE, JobSummary, members_of
from optimiser.model.plan import Staging

Codes = Annotated[
    list[Annotated[str, Field(min_length=1, max_length=60)]], Field(min_length=1, max_length=50)
]
Share = Annotated[float, Field(ge=0, le=1)]
MOST_OPTIONS = 5000


class ComparisonRequest(BaseModel):
    """Which nominal gaps to compare, every `step_mm` from `from_mm` to `to_mm`, and with which choices; a list
    that is left out stands for what the project has."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {"from_mm": 120, "to_mm": 180, "step_mm": 5, "boards": [["B-120"]], "shifted": False}
        },
    )
    from_mm: int = Field(ge=1, le=2000)
    to_mm: int = Field(ge=1, le=2000)
    step_mm: int = Field(default=1, ge=1, le=2000)
    boards: list[Codes] = Field(default=[], max_length=20, description="Choices of board codes.")
    oversize: list[tuple[Share, Share]] = Field(default=[], max_length=20, description="Least and greatest.")
    insertion: list[tuple[Share, Share, Share]] = Field(
        default=[], max_length=20, description="Least, target and greatest."
    )
    brackets: list[Codes] = Field(default=[], max_length=20, description="Choices of bracket codes on offer.")
    runs: list[str] = Field(default=[], max_length=1000, description="Only these runs; patterns such as *-N.")
    shifted: bool = Field(default=False, description="Each run keeps the shape of its own gaps.")
    staging: Staging = "whole"
    time_limit: float | None = Field(
        default=None, gt=0, le=600, description="Seconds for one option's solver."
    )
    seed: int = Field(default=0, ge=0, le=2**31 - 1)

    @model_validator(mode="after")
    def _sensible(self) -> ComparisonRequest:
        if self.from_mm > self.to_mm:
            raise ValueError(f"from_mm ({self.from_mm}) is above to_mm ({self.to_mm}): swap them")
        options = (self.to_mm - self.from_mm) // self.step_mm + 1
        for choices in (self.boards, self.oversize, self.insertion, self.brackets):
            options *= max(1, len(choices))
        if options > MOST_OPTIONS:
            raise ValueError(f"these are {options} options, more than {MOST_OPTIONS}: take a larger step_mm")
        return self


class AllowanceRequest(BaseModel):
    """How to simulate the tolerances of nominal gaps. With both costs, the order is where the expected cost of
    shortage and surplus is least; without, it covers `service_level` of the draws (left out: the project's)."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"example": {"draws": 500, "seed": 0, "service_level": 0.95}}
    )
    draws: int = Field(default=500, ge=1, le=20_000)
    seed: int = Field(default=0, ge=0, le=2**31 - 1)
    service_level: float | None = Field(default=None, gt=0, le=1)
    shortage_cost: float | None = Field(default=None, gt=0, le=10**9, description="Of one missing.")
    surplus_cost: float | None = Field(default=None, gt=0, le=10**9, description="Of one left over.")
    staging: Staging = "whole"

    @model_validator(mode="after")
    def _both_costs_or_none(self) -> AllowanceRequest:
        if (self.shortage_cost is None) != (self.surplus_cost is None):
            raise ValueError("give both shortage_cost and surplus_cost, or neither")
        return self


class FrontierRequest(BaseModel):
    """For which staging to weigh boards against waiting. There is no time limit, so that a plan that takes one of the
    numbers with the same staging and seed is the one that was shown."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"staging": "whole", "seed": 0}})
    staging: Staging = "whole"
    seed: int = Field(default=0, ge=0, le=2**31 - 1)


StudyRequest = ComparisonRequest | AllowanceRequest | FrontierRequest


class StudySummary(JobSummary):
    """A comparison, simulation, frontier or comparison of scenarios: its status as a plan's."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                **EXAMPLE,
                "step": "part 2",
                "kind": "comparison",
                "request": {"from_mm": 120, "to_mm": 180, "step_mm": 5},
            }
        }
    )

    kind: Literal["comparison", "allowance", "frontier", "scenario"]
    request: dict[str, Any]


class KeptStudy(StudySummary):
    """A comparison, simulation or frontier; `result` holds what it found once it is done."""

    result: dict[str, Any] | None = None


def summary_of(row: Any) -> StudySummary:
    """A row of `jobs` of the kind 'comparison', 'allowance', 'frontier' or 'scenario'."""
    return StudySummary(**members_of(row), kind=row.kind, request=json.loads(row.parameters))
