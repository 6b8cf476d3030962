"""Making, ending and reading a project's calendar feed.

Its secret has 256 random bits and is shown once; only its SHA-256 is kept, which cannot be searched. The feed shows the
newest issued revision; until one is issued the newest plan, every entry marked as a draft.
"""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import dataclass

import sqlalchemy as sa
import structlog

from api import clock
from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.feeds import repository
from api.feeds.repository import Row
from api.http.problem_details import Problem
from api.jobs.service import newest_done_job
from api.orders.service import last_issued
from api.plans import files
from api.projects.service import find_project, lock_project

_SECRET = re.compile(r"[A-Za-z0-9_-]{43}")
_USE_NOTED_EVERY = 3600.0  # seconds: of several times an hour that calendar programs ask, one is written


@dataclass(frozen=True)
class Shown:
    """What a feed shows: a plan, and the revision under which it was issued (None: a draft)."""

    plan_id: str
    revision: int | None

    @property
    def etag(self) -> str:
        """Changes when another plan or revision is shown; each of them never changes."""
        return f'"{self.plan_id}-{self.revision or "draft"}"'


def find_feed(context: AppContext, caller: Caller, project_id: str) -> Row | None:
    """The feed of the caller's project; None where it has none. Raises Problem 404 for a project that there is not."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return repository.feed_of(connection, project_id)


def make_feed(context: AppContext, caller: Caller, project_id: str) -> tuple[Row, str]:
    """A new feed of the caller's project, or a new secret of the one it has, whose old address ends: the feed, and the
    secret, which is shown this once. Raises Problem 404; 409 while the project has no finished plan."""
    secret = secrets.token_urlsafe(32)
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        find_project(connection, caller, project_id)
        if _shown(connection, caller, project_id) is None:
            raise Problem(409, "plan-not-done", "The project has no finished plan yet: plan it first.")
        known = repository.feed_of(connection, project_id)
        repository.keep_feed(connection, caller.company_id, project_id, _hash_of(secret), caller.who)
        log_change(
            connection,
            caller.company_id,
            project_id,
            "calendar feed",
            "made" if known is None else "renewed",
            caller.who,
        )
        row = repository.feed_of(connection, project_id)
    assert row is not None
    return row, secret


def revoke_feed(context: AppContext, caller: Caller, project_id: str) -> None:
    """Ends the feed of the caller's project: its address is not found any more. Raises Problem 404."""
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        find_project(connection, caller, project_id)
        if not repository.end_feed(connection, project_id):
            raise Problem(404, "not-found", "The project has no calendar feed.")
        log_change(connection, caller.company_id, project_id, "calendar feed", "revoked", caller.who)


def reader_of(context: AppContext, address: str, secret: str) -> tuple[Caller, Row]:
    """Who reads a feed by its secret: nobody but its project's company, reading only; and the feed.

    Raises Problem 404 for a secret that is none or is revoked, counted like a key that is none, and 429 above the rate.
    """
    if _SECRET.fullmatch(secret):
        with context.storage.reading() as connection:
            row = repository.feed_with_hash(connection, _hash_of(secret))
        if row is not None:
            context.rates.count(row.company_id)
            return Caller(row.company_id, "calendar feed", "read"), row
    context.rates.count_refusal(address)
    raise Problem(404, "not-found", "There is no such calendar, or its address was revoked.")


def shown_by(context: AppContext, caller: Caller, feed: Row) -> Shown:
    """What a feed shows now; that it was read is kept, to the hour. Raises Problem 404 where nothing is planned."""
    _note_use(context, feed)
    with context.storage.reading() as connection:
        shown = _shown(connection, caller, feed.project_id)
    if shown is None:
        raise Problem(404, "not-found", "Nothing is planned yet.")
    return shown


def address_with(base: str, secret: str) -> str:
    """Where the feed of a secret is read; `base` is the address of this service as it was called."""
    return f"{base.rstrip('/')}/calendar/{secret}.ics"


def calendar_of(context: AppContext, caller: Caller, shown: Shown) -> bytes:
    """The calendar of what a feed shows (RFC 5545)."""
    if shown.revision is None:
        return files.draft_calendar(context, caller, shown.plan_id)
    return files.calendar(context, caller, shown.plan_id).content


def _shown(connection: sa.Connection, caller: Caller, project_id: str) -> Shown | None:
    issued = last_issued(connection, project_id)
    if issued is not None:
        return Shown(issued["plan_id"], issued["revision"])
    newest = newest_done_job(connection, caller, project_id, "plan")
    return None if newest is None else Shown(newest.id, None)


def _note_use(context: AppContext, feed: Row) -> None:
    """Keeps when a feed was last read. What fails here stops no reading."""
    if feed.last_used_at is not None and clock.seconds_since(feed.last_used_at) < _USE_NOTED_EVERY:
        return
    try:
        with context.storage.writing() as connection:
            repository.note_use(connection, feed.secret_hash)
    except sa.exc.SQLAlchemyError as error:
        structlog.get_logger().warning("last_use_not_kept", feed=feed.project_id, error=type(error).__name__)


def _hash_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
