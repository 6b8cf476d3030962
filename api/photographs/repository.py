"""Photographs in the database: added, never altered (triggers refuse it)."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.numbering import next_number
from api.storage.tables import photographs

_WITHOUT_CONTENT = (
    photographs.c.photograph_id,
    photographs.c.about,
    photographs.c.media_type,
    photographs.c.content_hash,
    sa.func.length(photographs.c.content).label("bytes"),
    photographs.c.received_at,
    photographs.c.received_by,
)


def add_photograph(
    connection: sa.Connection,
    company_id: str,
    project_id: str,
    photograph_id: str,
    about: str,
    media_type: str,
    content: bytes,
    content_hash: str,
    who: str,
) -> None:
    """Keeps a photograph. The project must be locked: they are numbered here."""
    connection.execute(
        sa.insert(photographs).values(
            project_id=project_id,
            photograph_id=photograph_id,
            number=next_number(connection, photographs, project_id),
            company_id=company_id,
            about=about,
            media_type=media_type,
            content=content,
            content_hash=content_hash,
            received_at=clock.now(),
            received_by=who,
        )
    )


def photograph_with_id(
    connection: sa.Connection, project_id: str, photograph_id: str, with_content: bool = False
) -> sa.Row[Any] | None:
    """A project's photograph; its `content` only where it is asked for."""
    columns = (*_WITHOUT_CONTENT, photographs.c.content) if with_content else _WITHOUT_CONTENT
    return connection.execute(
        sa.select(*columns).where(
            photographs.c.project_id == project_id, photographs.c.photograph_id == photograph_id
        )
    ).first()


def photographs_of(connection: sa.Connection, project_id: str) -> list[sa.Row[Any]]:
    """All photographs of a project without their content, in the order in which they were received."""
    return list(
        connection.execute(
            sa.select(*_WITHOUT_CONTENT)
            .where(photographs.c.project_id == project_id)
            .order_by(photographs.c.number)
        )
    )
