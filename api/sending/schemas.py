"""What became of events that were sent, as the HTTP interface shows it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from api.http.problem_details import Fault


class SentEvents(BaseModel):
    """What became of the events that were sent."""

    model_config = ConfigDict(
        json_schema_extra={"example": {"added": 3, "known": 1, "events": 57, "warnings": []}}
    )
    added: int = Field(description="Events that are new.")
    known: int = Field(description="Events that were sent before: they count once.")
    events: int = Field(description="Events on record now.")
    warnings: list[Fault] = Field(
        default_factory=list,
        description="What new events name that the newest plan does not have, each with its mend. They are on record"
        " all the same; the rest of the job cannot be planned from that plan until they are taken back. At most 200.",
    )
