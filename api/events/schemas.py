"""Events as the HTTP interface shows them."""

from __future__ import annotations

import json
from typing import Any

from pydantic import ConfigDict, Field

from api.http.moments import Moment
from optimiser.model.record import Event

EXAMPLE: dict[str, Any] = {
    "at": "2027-02-22T07:30:00",
    "event": "cut",
    "piece": "L01-N-003",
    "id": "phone-4-0017",
    "by": "crew 2",
}


class RecordedEvent(Event):
    """An event on record: as it was sent, and when and by whom it was received."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                **EXAMPLE,
                "number": 57,
                "received_at": "2027-02-22T07:41:12.000000Z",
                "received_by": "crew 2's phone",
            }
        }
    )
    number: int = Field(description="Counts the project's events from 1, in the order they were received in.")
    received_at: Moment
    received_by: str


def recorded(row: Any) -> RecordedEvent:
    """A row of `record_events`."""
    return RecordedEvent.model_validate(
        {
            **json.loads(row.document),
            "number": row.number,
            "received_at": row.received_at,
            "received_by": row.received_by,
        }
    )
