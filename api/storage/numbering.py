"""Rows of a project that are only ever added, numbered from 1."""

from __future__ import annotations

import sqlalchemy as sa


def next_number(connection: sa.Connection, table: sa.Table, project_id: str) -> int:
    """The number of the next row of a project in a table. The project must be locked."""
    last = connection.scalar(sa.select(sa.func.max(table.c.number)).where(table.c.project_id == project_id))
    return (last or 0) + 1
