"""Wakes the event streams whose jobs have news: one query for all that are watched, not one for each."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress

from anyio import to_thread
from sqlalchemy.exc import SQLAlchemyError

from api.jobs.repository import last_event_numbers
from api.storage.engine import Storage

_MOST_A_QUERY = 500


class EventSubscription:
    """One stream's view of a job: the number of its newest event, as far as is known."""

    def __init__(self, job_id: str) -> None:
        self.job_id, self.newest = job_id, 0
        self._changed = asyncio.Event()

    def notify(self, newest: int | None = None) -> None:
        """There is news, or (None) an end to the waiting."""
        if newest is None or newest > self.newest:
            self.newest = max(self.newest, newest or 0)
            self._changed.set()

    async def newer_than(self, number: int, seconds: float) -> bool:
        """Waits until there is an event after this one; False when none came in this time."""
        if self.newest > number:
            return True
        self._changed.clear()
        try:
            await asyncio.wait_for(self._changed.wait(), seconds)
        except TimeoutError:
            return False
        return True


class EventNotifier:
    """Looks for new events in one task, for as long as the application runs."""

    def __init__(self, storage: Storage, stopping: threading.Event, poll_seconds: float) -> None:
        self._storage, self._stopping, self._poll_seconds = storage, stopping, poll_seconds
        self._subscriptions: set[EventSubscription] = set()

    @contextmanager
    def subscribed(self, job_id: str) -> Iterator[EventSubscription]:
        """A subscription to a job's events while the block runs."""
        subscription = EventSubscription(job_id)
        self._subscriptions.add(subscription)
        try:
            yield subscription
        finally:
            self._subscriptions.discard(subscription)

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """Looks while the block runs."""
        task = asyncio.create_task(self._run())
        try:
            yield
        finally:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    async def _run(self) -> None:
        while True:
            if self._stopping.is_set():
                for subscription in self._subscriptions:
                    subscription.notify()
            elif self._subscriptions:
                with suppress(SQLAlchemyError):  # the database is away: the streams wait
                    watched = sorted({subscription.job_id for subscription in self._subscriptions})
                    newest = await to_thread.run_sync(self._newest, watched)
                    for subscription in self._subscriptions:
                        if subscription.job_id in newest:
                            subscription.notify(newest[subscription.job_id])
            await asyncio.sleep(self._poll_seconds)

    def _newest(self, job_ids: list[str]) -> dict[str, int]:
        found: dict[str, int] = {}
        with self._storage.reading() as connection:
            for start in range(0, len(job_ids), _MOST_A_QUERY):
                found.update(last_event_numbers(connection, job_ids[start : start + _MOST_A_QUERY]))
        return found
