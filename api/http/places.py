"""Places for work that is done side by side, given out by turns: no company holds them all while another waits.

Common practice, no source: those who wait are let in company by company (round robin), the one that holds the fewest
places first.
"""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from api.http.problem_details import Problem


class NoPlace(Problem):
    """There is no place for a request: too many wait already (429), or none came free in time (503)."""


class FairPlaces:
    """`places` for some kind of work; of these `spare` are never given to one company alone. At most `most_waiting`
    requests of a company wait for a place, each at most `wait_seconds`. Used by one event loop."""

    def __init__(
        self, places: int, *, spare: int = 0, most_waiting: int = 64, wait_seconds: float = 60.0
    ) -> None:
        self.places = max(1, places)
        self._most_of_one = max(1, self.places - spare)
        self._most_waiting, self._wait_seconds = most_waiting, wait_seconds
        self._held: Counter[str] = Counter()
        self._waiting: dict[str, deque[asyncio.Future[None]]] = {}  # in the order of their turns

    @property
    def taken(self) -> int:
        """How many places are taken."""
        return self._held.total()

    @property
    def waiting(self) -> int:
        """How many requests wait for a place."""
        return sum(len(queue) for queue in self._waiting.values())

    async def acquire(self, company_id: str) -> None:
        """Waits for a place, which `release` gives back.

        Raises NoPlace: 429 when too many of the company's requests wait already, 503 when none came free in time.
        """
        if not self._waiting.get(company_id) and self._has_room_for(company_id):
            self._held[company_id] += 1
            return
        queue = self._waiting.setdefault(company_id, deque())
        if len(queue) >= self._most_waiting:
            raise NoPlace(
                429,
                "too-many-requests",
                f"{len(queue)} requests of yours wait for a place already.",
                headers={"Retry-After": "10"},
            )
        turn: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        queue.append(turn)
        try:
            await asyncio.wait_for(asyncio.shield(turn), self._wait_seconds)
        except TimeoutError:
            self._give_up(company_id, turn)
            raise NoPlace(
                503, "busy", "No place came free in time. Try again.", headers={"Retry-After": "10"}
            ) from None
        except asyncio.CancelledError:
            self._give_up(company_id, turn)
            raise

    def release(self, company_id: str) -> None:
        """Gives a place back: to whoever's turn it is."""
        self._held[company_id] -= 1
        if not self._held[company_id]:
            del self._held[company_id]
        self._let_in()

    @asynccontextmanager
    async def place(self, company_id: str) -> AsyncIterator[None]:
        """A place while the block runs. Raises as `acquire`."""
        await self.acquire(company_id)
        try:
            yield
        finally:
            self.release(company_id)

    def _has_room_for(self, company_id: str) -> bool:
        return self.taken < self.places and self._held[company_id] < self._most_of_one

    def _let_in(self) -> None:
        while True:
            ready = [one for one, queue in self._waiting.items() if queue and self._has_room_for(one)]
            if not ready:
                return
            company_id = min(ready, key=lambda one: self._held[one])  # of equals the one whose turn is first
            queue = self._waiting.pop(company_id)
            turn = queue.popleft()
            if queue:
                self._waiting[company_id] = queue  # behind the others
            self._held[company_id] += 1
            turn.set_result(None)

    def _give_up(self, company_id: str, turn: asyncio.Future[None]) -> None:
        """Takes a request that no longer waits from the queue; a place that it was given meanwhile goes back."""
        if turn.done():
            self.release(company_id)
            return
        turn.cancel()
        queue = self._waiting.get(company_id, deque())
        if turn in queue:
            queue.remove(turn)
        if not queue:
            self._waiting.pop(company_id, None)
