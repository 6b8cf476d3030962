"""Rows of a table a page at a time, newest first."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa


class UnknownPlace(LookupError):  # noqa: N818 (the caller's fault, not the program's)
    """The id after which a page should begin is none of the list's."""


def rows_of_page(
    connection: sa.Connection, table: sa.Table, mine: sa.ColumnElement[bool], limit: int, after: str | None
) -> list[sa.Row[Any]]:
    """The rows of a table that are `mine`, newest first, after the one with the id `after` (None: from the first).

    Raises UnknownPlace when `after` is none of them.
    """
    place = sa.tuple_(table.c.created_at, table.c.id)
    query = sa.select(table).where(mine)
    if after is not None:
        last = connection.execute(
            sa.select(table.c.created_at, table.c.id).where(mine, table.c.id == after)
        ).first()
        if last is None:
            raise UnknownPlace(after)
        query = query.where(place < sa.tuple_(*last))
    ordered = query.order_by(table.c.created_at.desc(), table.c.id.desc())
    return list(connection.execute(ordered.limit(limit)))
