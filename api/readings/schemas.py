"""Readings as the HTTP interface takes and shows them."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from api.http.moments import Moment
from optimiser.model.table import LONGEST_MM

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[^\x00-\x1f\x7f]+$")]
Remark = Annotated[str, Field(max_length=500, pattern=r"^[^\x00\x7f]*$")]
Width = Annotated[int, Field(ge=1, le=LONGEST_MM)]


class Reading(BaseModel):
    """The gap at one position of a run, at the slab's top, its bottom, or both: the wider counts. Where nobody can get
    at it, `accessible` is false and the survey keeps what it has."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    run: Name
    at_mm: int = Field(ge=0, le=LONGEST_MM, description="From the run's start.")
    gap_top_mm: Width | None = None
    gap_bottom_mm: Width | None = None
    accessible: bool = True
    note: Remark = ""

    @model_validator(mode="after")
    def _has_what_it_says(self) -> Self:
        if self.accessible != (self.gap_top_mm is not None or self.gap_bottom_mm is not None):
            raise ValueError("give the gap at the top or at the bottom, or say that it is not accessible")
        return self


class SentReadings(BaseModel):
    """Readings that were taken together."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        json_schema_extra={
            "example": {
                "id": "phone-4-r0001",
                "at": "2027-02-10T10:20:00",
                "by": "surveyor",
                "readings": [
                    {"run": "L03-N", "at_mm": 0, "gap_top_mm": 151, "gap_bottom_mm": 148},
                    {"run": "L03-N", "at_mm": 1500, "accessible": False, "note": "behind the hoist"},
                ],
            }
        },
    )
    id: Name = Field(description="The sender's own: sent twice they count once.")
    at: datetime
    by: str = Field(default="", max_length=60, pattern=r"^[^\x00-\x1f\x7f]*$")
    readings: tuple[Reading, ...] = Field(min_length=1, max_length=2000)


class KeptReadings(SentReadings):
    """Readings as they are kept, and the survey's version that they made (or left, where nothing was accessible)."""

    model_config = ConfigDict(
        extra="ignore",
        frozen=True,
        json_schema_extra={
            "example": {
                **SentReadings.model_config["json_schema_extra"]["example"],  # type: ignore[index, dict-item]
                "version": 4,
                "received_at": "2027-02-10T11:05:12.000000Z",
                "received_by": "surveyor's phone",
            }
        },
    )
    version: int
    received_at: Moment
    received_by: str


class AllReadings(BaseModel):
    """Every sending of readings of a project, in the order in which they were received."""

    items: list[KeptReadings]


def kept_readings(row: Any) -> KeptReadings:
    """A row of `sent_readings`."""
    sent = SentReadings.model_validate_json(row.document)
    return KeptReadings(
        **sent.model_dump(), version=row.version, received_at=row.received_at, received_by=row.received_by
    )
