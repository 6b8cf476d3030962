"""Webhooks and their deliveries in the database.

What happened is read from the tables that it happened in, so nothing that is planned or issued waits for a webhook, and
nothing is missed when a process is killed: a delivery that is not there yet is made at the next look.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.engine import insert_into
from api.storage.pages import rows_of_page
from api.storage.tables import issued_orders, jobs, restored, webhook_deliveries, webhooks

Row = sa.Row[Any]
_MOST_NEW = 200  # deliveries that one look makes of a webhook


def add_webhook(connection: sa.Connection, **values: Any) -> str:
    """A new webhook: its id."""
    webhook_id = uuid.uuid4().hex
    connection.execute(sa.insert(webhooks).values(id=webhook_id, created_at=clock.now(), **values))
    return webhook_id


def webhooks_of(connection: sa.Connection, company_id: str | None = None) -> list[Row]:
    """A company's webhooks (None: all), first to last."""
    mine = sa.true() if company_id is None else webhooks.c.company_id == company_id
    return list(connection.execute(sa.select(webhooks).where(mine).order_by(webhooks.c.created_at)))


def webhook_with_id(connection: sa.Connection, company_id: str, webhook_id: str) -> Row | None:
    """A company's webhook."""
    return connection.execute(
        sa.select(webhooks).where(webhooks.c.id == webhook_id, webhooks.c.company_id == company_id)
    ).first()


def delete_webhook(connection: sa.Connection, webhook_id: str) -> None:
    """Deletes a webhook with its deliveries."""
    connection.execute(sa.delete(webhook_deliveries).where(webhook_deliveries.c.webhook_id == webhook_id))
    connection.execute(sa.delete(webhooks).where(webhooks.c.id == webhook_id))


def deliveries_of(connection: sa.Connection, webhook_id: str, limit: int, after: str | None) -> list[Row]:
    """A page of a webhook's deliveries, newest first."""
    mine = webhook_deliveries.c.webhook_id == webhook_id
    return rows_of_page(connection, webhook_deliveries, mine, limit, after)


def _untold(webhook: Row, event: str, subject: sa.ColumnElement[str]) -> sa.ColumnElement[bool]:
    told = sa.select(webhook_deliveries.c.id).where(
        webhook_deliveries.c.webhook_id == webhook.id,
        webhook_deliveries.c.event == event,
        webhook_deliveries.c.subject == subject,
    )
    return sa.not_(sa.exists(told))


def plans_done(connection: sa.Connection, webhook: Row, event: str) -> list[Row]:
    """The plans that were done since the webhook was made and that it was not told of, first to last."""
    return list(
        connection.execute(
            sa.select(jobs)
            .where(
                jobs.c.company_id == webhook.company_id,
                jobs.c.kind == "plan",
                jobs.c.status == "done",
                jobs.c.finished_at >= webhook.created_at,
                _untold(webhook, event, jobs.c.id),
            )
            .order_by(jobs.c.finished_at)
            .limit(_MOST_NEW)
        )
    )


def newest_plans_unissued(connection: sa.Connection, webhook: Row, event: str) -> list[Row]:
    """The newest finished plan of each of the company's projects, where nothing was issued from it and the webhook was
    not told of it."""
    later = jobs.alias()
    newer = sa.select(later.c.id).where(
        later.c.project_id == jobs.c.project_id,
        later.c.kind == "plan",
        later.c.status == "done",
        sa.or_(
            later.c.created_at > jobs.c.created_at,
            sa.and_(later.c.created_at == jobs.c.created_at, later.c.id > jobs.c.id),
        ),
    )
    issued = sa.select(issued_orders.c.plan_id).where(issued_orders.c.plan_id == jobs.c.id)
    return list(
        connection.execute(
            sa.select(jobs).where(
                jobs.c.company_id == webhook.company_id,
                jobs.c.kind == "plan",
                jobs.c.status == "done",
                sa.not_(sa.exists(newer)),
                sa.not_(sa.exists(issued)),
                _untold(webhook, event, jobs.c.id),
            )
        )
    )


def orders_issued(connection: sa.Connection, webhook: Row, event: str) -> list[dict[str, Any]]:
    """The orders that were issued since the webhook was made and that it was not told of, first to last, each with its
    `subject`."""
    revision = sa.cast(issued_orders.c.revision, sa.String)
    subject = issued_orders.c.project_id.concat(" revision ").concat(revision)
    rows = connection.execute(
        sa.select(issued_orders.c.document, issued_orders.c.hash, subject.label("subject"))
        .where(
            issued_orders.c.company_id == webhook.company_id,
            issued_orders.c.issued_at >= webhook.created_at,
            _untold(webhook, event, subject),
        )
        .order_by(issued_orders.c.issued_at)
        .limit(_MOST_NEW)
    )
    return [{**json.loads(restored(row.document)), "hash": row.hash, "subject": row.subject} for row in rows]


def add_delivery(
    connection: sa.Connection,
    webhook: Row,
    event: str,
    subject: str,
    project_id: str,
    data: Mapping[str, Any],
) -> None:
    """A delivery that is due at once; where another process made it meanwhile, none."""
    now = clock.now()
    row = {
        "id": uuid.uuid4().hex,
        "webhook_id": webhook.id,
        "company_id": webhook.company_id,
        "project_id": project_id,
        "event": event,
        "subject": subject,
        "body": json.dumps({"type": event, "timestamp": now, "data": data}),
        "status": "waiting",
        "attempts": 0,
        "last_answer": "",
        "created_at": now,
        "next_attempt_at": now,
    }
    connection.execute(insert_into(connection, webhook_deliveries).values(row).on_conflict_do_nothing())


def take_due(connection: sa.Connection, limit: int, until: str) -> list[Row]:
    """Deliveries that are due, the longest due first and one a webhook, with their addresses and secrets; nobody else
    takes them before `until`, when they are due again unless they ended."""
    now = clock.now()
    waiting = sa.and_(webhook_deliveries.c.status == "waiting", webhook_deliveries.c.next_attempt_at <= now)
    due = connection.execute(
        sa.select(webhook_deliveries, webhooks.c.url, webhooks.c.secret)
        .join(webhooks, webhooks.c.id == webhook_deliveries.c.webhook_id)
        .where(waiting)
        .order_by(webhook_deliveries.c.next_attempt_at)
        .limit(10 * limit)
    ).all()
    taken: dict[str, Row] = {}
    for row in due:
        if len(taken) < limit and row.webhook_id not in taken:
            done = connection.execute(
                sa.update(webhook_deliveries)
                .where(waiting, webhook_deliveries.c.id == row.id)
                .values(next_attempt_at=until)
            )
            if done.rowcount == 1:
                taken[row.webhook_id] = row
    return list(taken.values())


def note_answer(
    connection: sa.Connection, delivery: Row, answer: str, *, delivered: bool, next_attempt_at: str | None
) -> None:
    """Writes how an attempt went; without a next one the delivery has ended."""
    status = "delivered" if delivered else ("given up" if next_attempt_at is None else "waiting")
    connection.execute(
        sa.update(webhook_deliveries)
        .where(webhook_deliveries.c.id == delivery.id)
        .values(
            status=status,
            attempts=delivery.attempts + 1,
            last_answer=answer[:200],
            next_attempt_at=next_attempt_at,
            delivered_at=clock.now() if delivered else None,
        )
    )
