"""A time of day to the minute, as it stands on the site's gate: no zone, no seconds."""

from __future__ import annotations

from datetime import time
from typing import Annotated

from pydantic import AfterValidator, PlainSerializer, WithJsonSchema


def _text(value: time) -> str:
    return f"{value:%H:%M}"


def _to_the_minute(value: time) -> time:
    if value.tzinfo is not None or value.second or value.microsecond:
        raise ValueError("must be a time of day to the minute, such as 07:00, without a zone")
    return value


TimeOfDay = Annotated[
    time,
    AfterValidator(_to_the_minute),
    PlainSerializer(_text, return_type=str, when_used="json"),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": r"^([01][0-9]|2[0-3]):[0-5][0-9](:00)?$",
            "description": "A time of day by the twenty-four hours.",
            "examples": ["07:00"],
        }
    ),
]
"""In JSON '07:00'."""
