"""Refits as the HTTP interface shows them."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from api.jobs.schemas import EXAMPLE, JobSummary, members_of
from optimiser.model.refit import Refit, Reuse

LevelName = Annotated[str, Field(min_length=1, max_length=200)]
Levels = Annotated[list[LevelName], Field(max_length=1000)]


class RefitRequest(BaseModel):
    """What a refit was asked with. `cut_levels` null: every piece of the plan is cut."""

    plan_id: str
    cut_levels: Levels | None = None
    fitted_levels: Levels = []
    time_limit: float | None = None
    seed: int = 0


class RefitFigures(BaseModel):
    """The figures of a finished refit that a list shows. `reused_pieces` counts those that move too."""

    cut_pieces: int
    reused_pieces: int
    moved_pieces: int
    cut_anew: int
    total: str
    currency: str


class RefitSummary(JobSummary):
    """A refit without its tables; `project_version` is the survey that the pieces are fitted to."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                **EXAMPLE,
                "step": "refit",
                "request": {
                    "plan_id": "7c0e4b2f90a14d5c8b3d2e1f0a9b8c7d",
                    "cut_levels": None,
                    "fitted_levels": ["L01"],
                    "time_limit": None,
                    "seed": 0,
                },
                "figures": None,
            }
        }
    )
    request: RefitRequest
    figures: RefitFigures | None


class ReusedPiece(Reuse):
    """A piece that is used again; `trims` are its widths at both ends once it is trimmed, else empty."""

    trims: tuple[int, ...] = ()


class RefitResult(Refit):
    """A refit as `barrier-orders refit --json` prints it."""

    stays: tuple[ReusedPiece, ...]
    moves: tuple[ReusedPiece, ...]


class KeptRefit(RefitSummary):
    """A refit; `result` holds its tables once it is done."""

    result: RefitResult | None = None


def summary_of(row: Any) -> RefitSummary:
    """A row of `jobs` of the kind 'refit'."""
    return RefitSummary(
        **members_of(row),
        request=RefitRequest.model_validate_json(row.parameters),
        figures=RefitFigures.model_validate_json(row.summary) if row.summary else None,
    )
