"""Readings in the database as they were sent: added, never altered (triggers refuse it)."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.numbering import next_number
from api.storage.tables import sent_readings


def add_readings(
    connection: sa.Connection,
    company_id: str,
    project_id: str,
    sent_id: str,
    document: str,
    version: int,
    who: str,
) -> None:
    """Keeps sent readings. The project must be locked: they are numbered here."""
    connection.execute(
        sa.insert(sent_readings).values(
            project_id=project_id,
            sent_id=sent_id,
            number=next_number(connection, sent_readings, project_id),
            company_id=company_id,
            document=document,
            version=version,
            received_at=clock.now(),
            received_by=who,
        )
    )


def readings_with_id(connection: sa.Connection, project_id: str, sent_id: str) -> sa.Row[Any] | None:
    """What a sender sent of a project under this id."""
    return connection.execute(
        sa.select(sent_readings).where(
            sent_readings.c.project_id == project_id, sent_readings.c.sent_id == sent_id
        )
    ).first()


def readings_of(connection: sa.Connection, project_id: str) -> list[sa.Row[Any]]:
    """Everything that was sent of a project, in the order in which it was received."""
    return list(
        connection.execute(
            sa.select(sent_readings)
            .where(sent_readings.c.project_id == project_id)
            .order_by(sent_readings.c.number)
        )
    )
