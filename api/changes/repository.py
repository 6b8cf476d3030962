"""The log of who changed what and when: only ever added to."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.tables import changes


def log_change(
    connection: sa.Connection, company_id: str, project_id: str | None, subject: str, action: str, who: str
) -> int:
    """Adds a line to the log, in the transaction of the change itself: its number."""
    added = connection.execute(
        sa.insert(changes).values(
            company_id=company_id,
            project_id=project_id,
            subject=subject,
            action=action,
            who=who,
            at=clock.now(),
        )
    )
    key = added.inserted_primary_key
    return int(key[0]) if key else 0


def changes_of_project(
    connection: sa.Connection, company_id: str, project_id: str, limit: int, after: int
) -> list[sa.Row[Any]]:
    """A project's log, oldest first, after a line's number."""
    query = _log_of(company_id, project_id).where(changes.c.number > after).order_by(changes.c.number)
    return list(connection.execute(query.limit(limit)))


def newest_changes_of_project(
    connection: sa.Connection, company_id: str, project_id: str, limit: int
) -> list[sa.Row[Any]]:
    """The last lines of a project's log, newest first."""
    query = _log_of(company_id, project_id).order_by(changes.c.number.desc())
    return list(connection.execute(query.limit(limit)))


def _log_of(company_id: str, project_id: str) -> sa.Select[Any]:
    return sa.select(changes).where(changes.c.company_id == company_id, changes.c.project_id == project_id)
