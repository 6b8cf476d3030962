"""Registering webhooks, finding what they are to be told, and telling it."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from typing import Any

from api import clock
from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.http.paging import refusing_unknown_places
from api.http.problem_details import Problem
from api.storage.engine import Storage
from api.webhooks import repository
from api.webhooks.calling import NotCalled, post
from api.webhooks.schemas import WebhookRequest
from api.webhooks.signing import new_secret, signed_headers

MOST_WEBHOOKS = 20
# Seconds before each next attempt, as the Standard Webhooks specification proposes them (from memory): some three days.
PAUSES = (5, 300, 1800, 7200, 18_000, 36_000, 50_400, 72_000, 86_400)
_AT_ONCE, _TAKEN_FOR_SECONDS = 4, 60.0
Post = Callable[[str, Mapping[str, str], bytes], int]


def register(context: AppContext, caller: Caller, wanted: WebhookRequest) -> tuple[repository.Row, str]:
    """A new webhook of the caller's company, and its secret. Raises Problem 429 when there are as many as may be."""
    secret = new_secret()
    with context.storage.writing() as connection:
        if len(repository.webhooks_of(connection, caller.company_id)) >= MOST_WEBHOOKS:
            raise Problem(
                429,
                "too-many-requests",
                f"A company may have {MOST_WEBHOOKS} webhooks: delete one first.",
                headers={"Retry-After": "3600"},
            )
        webhook_id = repository.add_webhook(
            connection,
            company_id=caller.company_id,
            url=wanted.url,
            events=json.dumps(sorted(set(wanted.events))),
            days_before=wanted.days_before,
            secret=secret,
            created_by=caller.who,
        )
        log_change(connection, caller.company_id, None, f"webhook {webhook_id}", "registered", caller.who)
        row = repository.webhook_with_id(connection, caller.company_id, webhook_id)
    assert row is not None
    return row, secret


def all_webhooks(context: AppContext, caller: Caller) -> list[repository.Row]:
    """The webhooks of the caller's company."""
    with context.storage.reading() as connection:
        return repository.webhooks_of(connection, caller.company_id)


def remove(context: AppContext, caller: Caller, webhook_id: str) -> None:
    """Deletes a webhook of the caller's company with what it was still to be told. Raises Problem 404."""
    with context.storage.writing() as connection:
        if repository.webhook_with_id(connection, caller.company_id, webhook_id) is None:
            raise _unknown(webhook_id)
        repository.delete_webhook(connection, webhook_id)
        log_change(connection, caller.company_id, None, f"webhook {webhook_id}", "deleted", caller.who)


def deliveries_page(
    context: AppContext, caller: Caller, webhook_id: str, limit: int, after: str | None
) -> list[repository.Row]:
    """A page of a webhook's deliveries, newest first. Raises Problem 404, 422 when `after` is none of them."""
    with context.storage.reading() as connection, refusing_unknown_places():
        if repository.webhook_with_id(connection, caller.company_id, webhook_id) is None:
            raise _unknown(webhook_id)
        return repository.deliveries_of(connection, webhook_id, limit, after)


def find_news(storage: Storage, today: date | None = None) -> int:
    """Makes a delivery of whatever happened that a webhook is to be told and was not: how many webhooks there are."""
    with storage.reading() as connection:
        found = repository.webhooks_of(connection)
    for webhook in found:
        wanted = json.loads(webhook.events)
        with storage.writing() as connection:
            if "plan.done" in wanted:
                for job in repository.plans_done(connection, webhook, "plan.done"):
                    figures = json.loads(job.summary or "null")
                    about = {**_of_plan(job), "figures": figures}
                    repository.add_delivery(connection, webhook, "plan.done", job.id, job.project_id, about)
            if "order.issued" in wanted:
                for issued in repository.orders_issued(connection, webhook, "order.issued"):
                    names = ("project_id", "revision", "plan_id", "issued_at", "hash")
                    about = {name: issued[name] for name in names if name in issued}
                    about |= {name: issued["order"][name] for name in ("total", "currency")}
                    repository.add_delivery(
                        connection, webhook, "order.issued", issued["subject"], issued["project_id"], about
                    )
            if "order_date.near" in wanted:
                near = ((today or clock.today()) + timedelta(days=webhook.days_before)).isoformat()
                for job in repository.newest_plans_unissued(connection, webhook, "order_date.near"):
                    order_by = json.loads(job.summary or "{}").get("order_by")
                    if order_by is not None and order_by <= near:
                        about = {**_of_plan(job), "order_by": order_by}
                        repository.add_delivery(
                            connection, webhook, "order_date.near", job.id, job.project_id, about
                        )
    return len(found)


def deliver_due(storage: Storage, send: Post = post) -> int:
    """Tells the webhooks what is due, a few at once: how many deliveries were tried.

    A delivery is taken for a minute: where the process is killed, another tries it again after that. So one may arrive
    twice, under the same id.
    """
    with storage.writing() as connection:
        due = repository.take_due(connection, _AT_ONCE, clock.in_seconds(_TAKEN_FOR_SECONDS))
    if due:
        with ThreadPoolExecutor(_AT_ONCE) as senders:
            answers = list(senders.map(lambda one: _told(one, send), due))
        for delivery, (answer, delivered) in zip(due, answers, strict=True):
            again = not delivered and delivery.attempts < len(PAUSES)
            at = clock.in_seconds(PAUSES[delivery.attempts]) if again else None
            with storage.writing() as connection:
                repository.note_answer(connection, delivery, answer, delivered=delivered, next_attempt_at=at)
    return len(due)


def _told(delivery: repository.Row, send: Post) -> tuple[str, bool]:
    body = delivery.body.encode()
    headers = signed_headers(delivery.secret, delivery.id, int(time.time()), body)
    try:
        status = send(delivery.url, headers, body)
    except NotCalled as error:
        return str(error), False
    return f"status {status}", 200 <= status < 300


def _of_plan(job: repository.Row) -> dict[str, Any]:
    return {"plan_id": job.id, "project_id": job.project_id, "project_version": job.project_version}


def _unknown(webhook_id: str) -> Problem:
    return Problem(404, "not-found", f"There is no webhook {webhook_id[:40]}.")
