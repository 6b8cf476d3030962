"""Ending the retention of buildings of which nothing was changed, told or issued for so many years."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa

from api import clock
from api.audit.repository import add_line
from api.companies.erasure import delete, operators_line
from api.orders.anchor import Anchor
from api.storage.engine import Storage
from api.storage.guards import lifted
from api.storage.tables import (
    changes,
    companies,
    issued_orders,
    jobs,
    metadata,
    photographs,
    projects,
    record_events,
    sent_readings,
)

# What happened to a building: a table, whose column says when.
_MOMENTS = (
    (issued_orders, "issued_at"),
    (record_events, "received_at"),
    (photographs, "received_at"),
    (sent_readings, "received_at"),
    (jobs, "created_at"),
    (changes, "at"),
)


@dataclass(frozen=True)
class Ended:
    """A building whose retention has ended."""

    company: str
    project_id: str
    name: str
    last_change: str
    orders: int


def end_retention(storage: Storage, anchor: Anchor, years: int, *, really: bool) -> tuple[Ended, ...]:
    """Deletes every building of which nothing happened for so many years, with its issued orders; unless `really`, only
    names them. A company that was closed, and has none left, goes with its last one.

    The anchor is told of every revision first, so that none is taken for lost and no number is given again.
    """
    now = clock.now()
    before = f"{int(now[:4]) - years:04}{now[4:]}"
    with storage.writing() as connection, anchor.locked() as held:
        found = tuple(one for one in _last_changes(connection) if one.last_change < before)
        if really and found:
            with lifted(connection):
                for one in found:
                    revisions = connection.scalars(
                        sa.select(issued_orders.c.revision).where(
                            issued_orders.c.project_id == one.project_id
                        )
                    ).all()
                    for revision in revisions:
                        held.add("ended", project_id=one.project_id, revision=revision)
                    delete_project(connection, one.project_id)
                    add_line(connection, operators_line(None, "retention", f"project {one.project_id}"))
                _delete_closed_companies(connection)
    return found


def _last_changes(connection: sa.Connection) -> list[Ended]:
    latest: dict[str, str] = {}
    for table, column in _MOMENTS:
        moments = sa.select(table.c.project_id, sa.func.max(table.c[column]).label("at")).group_by(
            table.c.project_id
        )
        for row in connection.execute(moments):
            if row.project_id is not None:
                latest[row.project_id] = max(latest.get(row.project_id, ""), row.at)
    orders = sa.select(issued_orders.c.project_id, sa.func.count().label("count")).group_by(
        issued_orders.c.project_id
    )
    counts = {row.project_id: int(row.count) for row in connection.execute(orders)}  # type: ignore[call-overload]
    rows = connection.execute(
        sa.select(projects, companies.c.name.label("company"))
        .join(companies, companies.c.id == projects.c.company_id)
        .order_by(companies.c.name, projects.c.id)
    )
    return [
        Ended(
            row.company,
            row.id,
            row.name,
            max(row.updated_at, latest.get(row.id, "")),
            counts.get(row.id, 0),
        )
        for row in rows
    ]


def delete_project(connection: sa.Connection, project_id: str) -> None:
    """Deletes a building with everything that refers to it, where the guards are lifted."""
    own_jobs = sa.select(jobs.c.id).where(jobs.c.project_id == project_id)
    for table in reversed(metadata.sorted_tables):
        if table is projects:
            delete(connection, table, table.c.id == project_id, True)
        elif "project_id" in table.c:
            delete(connection, table, table.c.project_id == project_id, True)
        elif "job_id" in table.c:
            delete(connection, table, table.c.job_id.in_(own_jobs), True)


def _delete_closed_companies(connection: sa.Connection) -> None:
    """Deletes companies that were closed and have no building left."""
    closed = sa.select(changes.c.company_id).where(
        changes.c.subject == "company", changes.c.action == "closed"
    )
    going = connection.scalars(
        sa.select(companies.c.id).where(
            companies.c.id.in_(closed), companies.c.id.not_in(sa.select(projects.c.company_id))
        )
    ).all()
    for company_id in going:
        for table in reversed(metadata.sorted_tables):
            if table is companies:
                delete(connection, table, table.c.id == company_id, True)
            elif "company_id" in table.c:
                delete(connection, table, table.c.company_id == company_id, True)
