"""Lists in pages: `limit` items at a time, the next page after the last item's id."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Annotated, Generic, TypeVar

from fastapi import Query
from pydantic import BaseModel, Field

from api import clock
from api.http.problem_details import Problem
from api.storage.pages import UnknownPlace

Item = TypeVar("Item")

Limit = Annotated[int, Query(ge=1, le=200, description="Items a page.")]
After = Annotated[
    str | None,
    Query(min_length=1, max_length=40, pattern="^[0-9a-f]+$", description="The `next` of the page before."),
]


Since = Annotated[
    datetime | None,
    Query(
        description="Only what is from this moment or later; without a zone it is UTC.",
        examples=["2027-02-01T00:00:00Z"],
    ),
]


def moment_since(since: datetime | None) -> str | None:
    """The moment of a filter as it is kept; None where there is none. Raises Problem 422 for what no clock shows."""
    if since is None:
        return None
    try:
        return clock.moment_of((since if since.tzinfo else since.replace(tzinfo=UTC)).isoformat())
    except OverflowError:
        raise Problem(
            422, "unusable-input", "`since` is beyond every calendar: send another moment."
        ) from None


class Page(BaseModel, Generic[Item]):
    """One page of a list; `next` is what to send as `after`, or null on the last page."""

    items: list[Item]
    next: str | None = Field(default=None, examples=["5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f"])


def page_of(items: list[Item], limit: int, last_id: str) -> Page[Item]:
    """A page; a full one may have a next."""
    return Page(items=items, next=last_id if len(items) == limit else None)


@contextmanager
def refusing_unknown_places() -> Iterator[None]:
    """An `after` that names no item of its list as Problem 422."""
    try:
        yield
    except UnknownPlace:
        raise Problem(
            422, "unusable-input", "`after` names no item of this list: send the last page's `next`."
        ) from None
