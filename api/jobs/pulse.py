"""Wakes the event streams whose jobs have news: one query for all that are watched, not one for each."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from typing import TYPE_CHECKING

from anyio import to_thread
from sqlalchemy.exc import SQLAlchemyError

from api.jobs.repository import last_event_numbers

if TYPE_CHECKING:
    from api.service import Service

_MOST_A_QUERY = 500


class Watch:
    """One stream's view of a job: the number of its newest event, as far as is known."""

    def __init__(self, job_id: str) -> None:
        self.job_id, self.newest = job_id, 0
        self._changed = asyncio.Event()

    def tell(self, newest: int | None = None) -> None:
        """There is news, or (None) an end to the waiting."""
        if newest is None or newest > self.newest:
            self.newest = max(self.newest, newest or 0)
            self._changed.set()

    async def newer_than(self, number: int, seconds: float) -> bool:
        """Waits until there is an event after this one; False when nothing came in this time."""
        if self.newest > number:
            return True
        self._changed.clear()
        try:
            await asyncio.wait_for(self._changed.wait(), seconds)
        except TimeoutError:
            return False
        return True


class Pulse:
    """Looks for news in one task, for as long as the application runs."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._watches: set[Watch] = set()

    @contextmanager
    def watching(self, job_id: str) -> Iterator[Watch]:
        """A watch on a job."""
        watch = Watch(job_id)
        self._watches.add(watch)
        try:
            yield watch
        finally:
            self._watches.discard(watch)

    @asynccontextmanager
    async def beating(self) -> AsyncIterator[None]:
        """Looks while the block runs."""
        task = asyncio.create_task(self._beat())
        try:
            yield
        finally:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    async def _beat(self) -> None:
        while True:
            if self._service.stopping.is_set():
                for watch in self._watches:
                    watch.tell()
            elif self._watches:
                with suppress(SQLAlchemyError):  # the database is away: the streams wait
                    newest = await to_thread.run_sync(self._newest, sorted({w.job_id for w in self._watches}))
                    for watch in self._watches:
                        if watch.job_id in newest:
                            watch.tell(newest[watch.job_id])
            await asyncio.sleep(self._service.settings.poll_seconds)

    def _newest(self, job_ids: list[str]) -> dict[str, int]:
        found: dict[str, int] = {}
        with self._service.storage.reading() as connection:
            for start in range(0, len(job_ids), _MOST_A_QUERY):
                found.update(last_event_numbers(connection, job_ids[start : start + _MOST_A_QUERY]))
        return found
