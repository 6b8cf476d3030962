"""Times and days in what is answered: text of ISO 8601, described as such so that clients read them as times."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

Moment = Annotated[
    str, Field(json_schema_extra={"format": "date-time"}, examples=["2027-02-03T09:30:00.000000Z"])
]
Day = Annotated[str, Field(json_schema_extra={"format": "date"}, examples=["2027-02-22"])]
