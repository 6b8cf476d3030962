"""Plans as the HTTP interface shows them."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Query
from pydantic import BaseModel, ConfigDict, Field, model_validator

from api.http.moments import Day
from api.jobs.schemas import EXAMPLE, JobSummary, members_of
from api.plans.documents import Paper
from optimiser.model.plan import Plan, Staging
from optimiser.model.scenario import PricedScenario

PaperSize = Annotated[Paper, Query(description="The paper that it is printed on.")]
Levels = Annotated[
    list[Annotated[str, Query(max_length=200)]] | None,
    Query(alias="level", max_length=1000, description="Only these levels; left out: all."),
]

WithNominal = Annotated[
    bool,
    Query(
        description="Nominal levels too, every page marked as not ready to cut; left out: they are withheld until"
        " they are measured."
    ),
]


class PlanRequest(BaseModel):
    """How to plan a project."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": {"staging": "carry", "seed": 0}})
    staging: Staging = Field(
        default="whole", description="Whether a level's offcuts serve any later level, near ones, or none."
    )
    time_limit: float | None = Field(
        default=None, gt=0, le=600, description="Seconds for the solver; null: what the service gives, 120."
    )
    seed: int = Field(default=0, ge=0, le=2**31 - 1)
    carry_cost: Annotated[str, Field(pattern=r"^[0-9]{1,10}(\.[0-9]{1,2})?$")] | None = Field(
        default=None,
        description="What keeping one remainder from one delivery to the next costs, as decimal text: boards and"
        " waiting become one sum. Null: the project's own, if any.",
    )
    waiting_choice: int | None = Field(
        default=None,
        ge=1,
        le=1000,
        description="The number of a plan of the frontier of boards against waiting.",
    )
    joint_rounds: int | None = Field(
        default=None,
        ge=0,
        le=20,
        description="How often joints are laid again at the cutting's prices; null: where it may pay.",
    )

    @model_validator(mode="after")
    def _one_way_to_choose(self) -> PlanRequest:
        if self.waiting_choice is not None and self.carry_cost is not None:
            raise ValueError("give either carry_cost or waiting_choice, not both")
        if self.waiting_choice is not None and self.time_limit is not None:
            raise ValueError("a waiting_choice takes no time_limit: it would be a plan of another frontier")
        if self.waiting_choice is not None and self.joint_rounds:
            raise ValueError("a waiting_choice takes no joint_rounds: they would change the pieces")
        return self


class KeptPlanRequest(PlanRequest):
    """What a plan was asked with, the scenario that it is of, and the plan that it goes on from."""

    scenario: PricedScenario | None = Field(
        default=None, description="What differs from the survey; null: the survey as it stands."
    )
    replan_of: str | None = Field(
        default=None,
        description="The plan that the site worked by, where this one is for the rest of the job.",
    )


class PlanFigures(BaseModel):
    """The figures of a finished plan that a list shows."""

    boards: int
    lower_bound: int
    pieces: int
    layouts: int
    not_planned: int
    scrap_fraction: float
    total: str
    forecast: str = Field(default="0.00", description="Of the total, for levels that are not measured yet.")
    currency: str
    order_by: Day | None = Field(
        default=None, description="The first day on which something of it must be ordered."
    )


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
    request: KeptPlanRequest
    figures: PlanFigures | None


class KeptPlan(PlanSummary):
    """A plan; `plan` holds its tables once it is done."""

    plan: Plan | None = None


class PrecutLevel(BaseModel):
    """What cutting a level now, to its nominal gaps, is expected to scrap: shares of its pieces, null where a nominal
    gap has no tolerance; and the boards that the plan buys for it when it is cut on site."""

    level: str
    pieces: int
    nominal_pieces: int
    share_not_fitting: float | None
    share_too_narrow: float | None
    share_too_wide: float | None
    share_scrapped: float | None
    boards_scrapped: float | None
    boards_site_cut: int


class PrecutComparison(BaseModel):
    """Cut now, or cut on site after measuring, level by level in the order of delivery."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "draws": 500,
                "seed": 0,
                "levels": [
                    {
                        "level": "L02",
                        "pieces": 40,
                        "nominal_pieces": 40,
                        "share_not_fitting": 0.21,
                        "share_too_narrow": 0.11,
                        "share_too_wide": 0.1,
                        "share_scrapped": 0.11,
                        "boards_scrapped": 1.2,
                        "boards_site_cut": 9,
                    }
                ],
            }
        }
    )
    draws: int
    seed: int
    levels: list[PrecutLevel]


def summary_of(row: Any) -> PlanSummary:
    """A row of `jobs` of the kind 'plan'."""
    return PlanSummary(
        **members_of(row),
        request=KeptPlanRequest.model_validate_json(row.parameters),
        figures=PlanFigures.model_validate_json(row.summary) if row.summary else None,
    )
