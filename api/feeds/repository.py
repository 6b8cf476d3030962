"""Calendar feeds in the database."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.tables import calendar_feeds

Row = sa.Row[Any]


def feed_of(connection: sa.Connection, project_id: str) -> Row | None:
    """A project's feed."""
    return connection.execute(
        sa.select(calendar_feeds).where(calendar_feeds.c.project_id == project_id)
    ).first()


def feed_with_hash(connection: sa.Connection, secret_hash: str) -> Row | None:
    """The feed whose secret has this hash."""
    return connection.execute(
        sa.select(calendar_feeds).where(calendar_feeds.c.secret_hash == secret_hash)
    ).first()


def keep_feed(
    connection: sa.Connection, company_id: str, project_id: str, secret_hash: str, who: str
) -> None:
    """A project's feed with a new secret, in the place of the one that it had; the project is locked."""
    end_feed(connection, project_id)
    connection.execute(
        sa.insert(calendar_feeds).values(
            project_id=project_id,
            company_id=company_id,
            secret_hash=secret_hash,
            made_at=clock.now(),
            made_by=who,
        )
    )


def end_feed(connection: sa.Connection, project_id: str) -> bool:
    """Deletes a project's feed; False where it had none."""
    going = sa.delete(calendar_feeds).where(calendar_feeds.c.project_id == project_id)
    return connection.execute(going).rowcount > 0


def note_use(connection: sa.Connection, secret_hash: str) -> None:
    """Keeps that a feed was read now."""
    connection.execute(
        sa.update(calendar_feeds)
        .where(calendar_feeds.c.secret_hash == secret_hash)
        .values(last_used_at=clock.now())
    )
