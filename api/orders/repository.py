"""Issued orders in the database: added, never altered (triggers refuse it)."""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa

from api import clock
from api.changes import log_change
from api.orders.chain import FIRST, hash_of_revision
from api.orders.difference import difference
from api.storage.tables import compressed, issued_orders, projects, restored

Issued = dict[str, Any]


class NotTheLastIssued(Exception):  # noqa: N818
    """A refit's order is on top of its plan's, which is not the last that was issued."""


def issued_from(connection: sa.Connection, company_id: str, job_id: str) -> Issued | None:
    """The revision that a plan or a refit was issued as."""
    row = connection.execute(
        sa.select(issued_orders).where(
            issued_orders.c.plan_id == job_id, issued_orders.c.company_id == company_id
        )
    ).first()
    return None if row is None else _issued(row)


def issue(
    connection: sa.Connection,
    *,
    company_id: str,
    project_id: str,
    project_version: int,
    job_id: str,
    order: dict[str, Any],
    who: str,
    on_top_of: str | None = None,
) -> Issued:
    """Freezes the order of a plan as the project's next revision, or that of a refit `on_top_of` its plan's; what is
    issued already stays as it is. Raises NotTheLastIssued when the plan's order is not the last revision.

    The project's row is locked first, so that two who issue at once get two numbers, one after the other.
    """
    connection.execute(
        sa.update(projects).where(projects.c.id == project_id).values(version=projects.c.version)
    )
    known = issued_from(connection, company_id, job_id)
    if known is not None:
        return known
    last_row = connection.execute(
        sa.select(issued_orders)
        .where(issued_orders.c.project_id == project_id)
        .order_by(issued_orders.c.revision.desc())
        .limit(1)
    ).first()
    last = None if last_row is None else _issued(last_row)
    if on_top_of is not None and (last_row is None or last_row.plan_id != on_top_of):
        raise NotTheLastIssued
    document = {
        "project_id": project_id,
        "revision": 1 if last is None else last["revision"] + 1,
        "plan_id": on_top_of or job_id,
        **({"refit_id": job_id} if on_top_of else {}),
        "project_version": project_version,
        "issued_at": clock.now(),
        "issued_by": who,
        "order": order,
        "difference": difference(None if last is None else last["order"], order),
    }
    previous_hash = FIRST if last is None else last["hash"]
    own_hash = hash_of_revision(previous_hash, document)
    connection.execute(
        sa.insert(issued_orders).values(
            project_id=project_id,
            revision=document["revision"],
            company_id=company_id,
            plan_id=job_id,
            document=compressed(json.dumps(document, ensure_ascii=False)),
            issued_at=document["issued_at"],
            issued_by=who,
            previous_hash=previous_hash,
            hash=own_hash,
        )
    )
    log_change(connection, company_id, project_id, f"order revision {document['revision']}", "issued", who)
    return {**document, "previous_hash": previous_hash, "hash": own_hash}


def issued_orders_of(connection: sa.Connection, company_id: str, project_id: str) -> list[Issued]:
    """A project's issued orders, first to last."""
    rows = connection.execute(
        sa.select(issued_orders)
        .where(issued_orders.c.project_id == project_id, issued_orders.c.company_id == company_id)
        .order_by(issued_orders.c.revision)
    )
    return [_issued(row) for row in rows]


def issued_order(connection: sa.Connection, company_id: str, project_id: str, revision: int) -> Issued | None:
    """One revision."""
    row = connection.execute(
        sa.select(issued_orders).where(
            issued_orders.c.project_id == project_id,
            issued_orders.c.company_id == company_id,
            issued_orders.c.revision == revision,
        )
    ).first()
    return None if row is None else _issued(row)


def chained(issued: Issued) -> tuple[int, str, str, dict[str, Any]]:
    """An issued order as `first_broken_revision` takes it."""
    document = {name: value for name, value in issued.items() if name not in ("previous_hash", "hash")}
    return issued["revision"], issued["previous_hash"], issued["hash"], document


def _issued(row: sa.Row[Any]) -> Issued:
    return {
        **json.loads(restored(row.document)),
        "previous_hash": row.previous_hash,
        "hash": row.hash,
    }
