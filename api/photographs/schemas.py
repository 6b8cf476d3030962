"""Photographs as the HTTP interface shows them."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.http.moments import Moment

Text = Annotated[str, Field(max_length=60, pattern=r"^[^\x00-\x1f\x7f]*$")]
Remark = Annotated[str, Field(max_length=500, pattern=r"^[^\x00\x7f]*$")]
What = Literal["joint", "bracket", "gap", "goods", "other"]


class About(BaseModel):
    """What a photograph is of: a joint or a bracket of a `piece`, the gap of a `run` at a position, goods of a
    `level`'s delivery."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    at: datetime | None = Field(default=None, description="When it was taken.")
    what: What = "other"
    piece: Text = ""
    run: Text = ""
    at_mm: int | None = Field(default=None, ge=0, le=10**6, description="From the run's start.")
    level: Text = ""
    by: Text = Field(default="", description="Who took it.")
    note: Remark = ""


class Photograph(About):
    """A kept photograph; its picture is at its own address."""

    model_config = ConfigDict(
        extra="ignore",
        frozen=True,
        json_schema_extra={
            "example": {
                "id": "phone-4-p0003",
                "at": "2027-02-22T09:12:00",
                "what": "joint",
                "piece": "L01-N-003",
                "by": "crew 2",
                "media_type": "image/jpeg",
                "bytes": 214_331,
                "received_at": "2027-02-22T11:40:12.000000Z",
                "received_by": "crew 2's phone",
            }
        },
    )
    id: str
    media_type: str
    bytes: int
    received_at: Moment
    received_by: str


class Photographs(BaseModel):
    """All photographs of a project, in the order in which they were received."""

    items: list[Photograph]


def photograph(row: Any) -> Photograph:
    """A row of `photographs`."""
    about = About.model_validate_json(row.about)
    return Photograph(
        **about.model_dump(),
        id=row.photograph_id,
        media_type=row.media_type,
        bytes=row.bytes,
        received_at=row.received_at,
        received_by=row.received_by,
    )
