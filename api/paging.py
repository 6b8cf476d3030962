"""Lists in pages: `limit` items at a time, the next page after the last item's id."""

from __future__ import annotations

from typing import Annotated, Any, Generic, TypeVar

import sqlalchemy as sa
from fastapi import Query
from pydantic import BaseModel, Field

from api.problem_details import Problem

Item = TypeVar("Item")

Limit = Annotated[int, Query(ge=1, le=200, description="Items a page.")]
After = Annotated[
    str | None,
    Query(min_length=1, max_length=40, pattern="^[0-9a-f]+$", description="The `next` of the page before."),
]


class Page(BaseModel, Generic[Item]):
    """One page of a list; `next` is what to send as `after`, or null on the last page."""

    items: list[Item]
    next: str | None = Field(default=None, examples=["5d4f9c1e6a7b4c0d8e2f3a4b5c6d7e8f"])


def page_of(items: list[Item], limit: int, last_id: str) -> Page[Item]:
    """A page; a full one may have a next."""
    return Page(items=items, next=last_id if len(items) == limit else None)


def rows_of_page(
    connection: sa.Connection, table: sa.Table, mine: sa.ColumnElement[bool], limit: int, after: str | None
) -> list[sa.Row[Any]]:
    """The rows of a table that are `mine`, newest first, after the one with the id `after` (None: from the first).

    Raises Problem 422 when `after` is none of them.
    """
    place = sa.tuple_(table.c.created_at, table.c.id)
    query = sa.select(table).where(mine)
    if after is not None:
        last = connection.execute(
            sa.select(table.c.created_at, table.c.id).where(mine, table.c.id == after)
        ).first()
        if last is None:
            raise Problem(
                422, "unusable-input", "`after` names no item of this list: send the last page's `next`."
            )
        query = query.where(place < sa.tuple_(*last))
    ordered = query.order_by(table.c.created_at.desc(), table.c.id.desc())
    return list(connection.execute(ordered.limit(limit)))
