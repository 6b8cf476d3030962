"""Events as they are sent into events as they are kept: runs in a limited process."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from api.projects.reading import kept_project, parsed, unusable

MOST_EVENTS = 10_000  # sent at a time


@dataclass(frozen=True)
class SentEvent:
    """An event by its sender's id, as JSON text, and the place in the list that it was sent at, from 0."""

    id: str
    document: str
    place: int


def read_events(body: bytes, known: Collection[str], survey: str) -> list[SentEvent]:
    """The events of a JSON list. `known` are the ids of those on record; levels and codes must be the survey's.

    Raises Unreadable, or Unusable with every fault.
    """
    from optimiser.errors.problems import UnusableInput
    from optimiser.reading import events_from_json

    value = parsed(body)
    try:
        events = events_from_json(value, known=frozenset(known), survey=kept_project(survey))
    except UnusableInput as error:
        raise unusable(error) from None
    return [
        SentEvent(event.id, event.model_dump_json(exclude_defaults=True), place)
        for place, event in enumerate(events)
    ]
