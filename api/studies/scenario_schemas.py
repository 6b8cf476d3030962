"""Scenarios side by side as the HTTP interface shows them."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.jobs.schemas import EXAMPLE
from api.studies.schemas import StudySummary
from optimiser.model.offer import Offer
from optimiser.model.scenario import Scenario
from optimiser.studies.scenario_result import ScenarioComparison
from optimiser.studies.scenarios import MOST_SCENARIOS

_EXAMPLE: dict[str, Any] = {
    "scenarios": [
        {"name": "as surveyed"},
        {"name": "every level on its own", "staging": "level"},
        {"name": "weekly trucks", "truck_pallets": 12, "every_days": 7, "delivery_weekday": "Monday"},
        {"name": "150 mm", "gap_mm": 150},
        {"name": "151 mm", "gap_mm": 151},
    ]
}


class ScenariosRequest(BaseModel):
    """Which scenarios to compare. `offers` are those of the suppliers that scenarios name, whose prices must hold `on`
    the day of ordering."""

    model_config = ConfigDict(extra="forbid", json_schema_extra={"example": _EXAMPLE})
    scenarios: list[Scenario] = Field(min_length=1, max_length=MOST_SCENARIOS)
    survey: int | None = Field(
        default=None, ge=1, le=10**6, description="The version of the project; null: its newest."
    )
    offers: list[Offer] = Field(default=[], max_length=50)
    on: date | None = Field(default=None, description="Null: today.")
    draws: int = Field(
        default=500,
        ge=1,
        le=20_000,
        description="Surveys to draw for scenarios that cut nominal levels ahead.",
    )
    time_limit: float | None = Field(
        default=None, gt=0, le=600, description="Seconds for the solver of a scenario that gives none itself."
    )


class ScenarioPlanRequest(BaseModel):
    """Which scenario to plan."""

    model_config = ConfigDict(
        extra="forbid", json_schema_extra={"example": {"scenario": "every level on its own"}}
    )
    scenario: str = Field(min_length=1, max_length=60, description="Its name.")


class ScenarioStudySummary(StudySummary):
    """A comparison of scenarios: its status as a plan's."""

    model_config = ConfigDict(
        json_schema_extra={"example": {**EXAMPLE, "step": "parts", "kind": "scenario", "request": _EXAMPLE}}
    )
    kind: Literal["scenario"]


class KeptScenarioStudy(ScenarioStudySummary):
    """A comparison of scenarios; `result` holds what each comes to once it is done."""

    result: ScenarioComparison | None = None
