"""Calendar feeds as the HTTP interface shows them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from api.http.moments import Moment

_EXAMPLE: dict[str, Any] = {
    "made_at": "2027-02-01T08:00:00.000000Z",
    "made_by": "Ada Example (key 0f0f)",
    "last_used_at": "2027-02-04T07:00:02.000000Z",
}


class CalendarFeed(BaseModel):
    """A project's calendar feed; its address is shown once, when it is made."""

    model_config = ConfigDict(json_schema_extra={"example": _EXAMPLE})
    made_at: Moment
    made_by: str
    last_used_at: Moment | None = Field(description="When it was last read, to the hour; null: never.")


class NewCalendarFeed(CalendarFeed):
    """A calendar feed that was just made, with its address."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                **_EXAMPLE,
                "last_used_at": None,
                "address": "https://orders.example/calendar/aW52ZW50ZWQgc2VjcmV0IG9mIGFuIGV4YW1wbGU0NDA.ics",
            }
        }
    )
    address: str = Field(
        description="Shown this once: whoever has it reads the calendar without a key, and nothing else."
    )
