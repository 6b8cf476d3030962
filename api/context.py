"""What the routes of a running application share, made once by `api.app`: settings, database, queue, limits.

The parts that are made higher up (the queue of jobs, the notifier of their events, the rates of the accounts) stand
here as protocols, so that every domain can be handed the context and none imports what stands on top of it.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Protocol

import sqlalchemy as sa
from anyio import CapacityLimiter
from fastapi import Depends, Request

from api.http.once import OneAtATime
from api.http.places import FairPlaces
from api.settings import Settings
from api.storage.engine import Storage


class Queue(Protocol):
    """Hands jobs to the workers."""

    def put(self, connection: sa.Connection, job_id: str) -> None:
        """Queues a job as part of the caller's transaction."""

    def cancel(self, job_id: str) -> None:
        """Takes a job from the queue, and stops it after its running step."""


class RateLimits(Protocol):
    """How often a company may call, and an address may fail to show a key."""

    def count(self, company_id: str) -> None:
        """Counts a company's request. Raises Problem 429 beyond its rate."""

    def count_refusal(self, address: str) -> None:
        """Counts a request without a usable key. Raises Problem 429 when an address has tried too often."""


class Subscription(Protocol):
    """One event stream's view of a job."""

    async def newer_than(self, number: int, seconds: float) -> bool:
        """Waits until there is an event after this one; False when none came in this time."""


class Notifier(Protocol):
    """Wakes the event streams whose jobs have news."""

    def subscribed(self, job_id: str) -> AbstractContextManager[Subscription]:
        """A subscription to a job's events while the block runs."""


class Kind(StrEnum):
    """The kinds of work that requests bring, each with places of its own."""

    PAGES = "pages"
    RENDERING = "rendering"
    UPLOADS = "uploads"


def places_of(settings: Settings) -> dict[Kind, FairPlaces]:
    """The places of each kind of work in a serving process; some are never given to one company alone."""
    waiting = settings.waiting_requests
    return {
        Kind.PAGES: FairPlaces(
            settings.pages_at_once, spare=settings.pages_at_once // 4, most_waiting=waiting
        ),
        Kind.RENDERING: FairPlaces(settings.renderings, spare=1, most_waiting=waiting),
        Kind.UPLOADS: FairPlaces(settings.uploads_at_once, spare=2, most_waiting=waiting),
    }


def no_excerpts(plan: str) -> dict[str, str]:
    """Of a plan as JSON text none: they are made when they are first asked for."""
    return {}


@dataclass(frozen=True)
class AppContext:
    """What one serving process works with.

    `planning` are the places for plans that are made at once while their requests wait, `waiting` the number of the
    threads that wait for them; `places` are those of all other work. `asking` are threads of the health checks' own,
    `watching` those of the event streams, `streams` their number by company; `kept` is when
    a company's bytes were counted, and how many they were. `excerpts_of` makes the excerpts of a plan for its pages,
    and `making` has what several requests want made once. `stopping` is set when the process drains,
    so that open event streams end.
    """

    settings: Settings
    storage: Storage
    queue: Queue
    rates: RateLimits
    notifier: Notifier
    planning: FairPlaces
    stopping: threading.Event
    places: dict[Kind, FairPlaces]
    excerpts_of: Callable[[str], dict[str, str]] = no_excerpts
    waiting: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(1000))
    asking: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(2))
    kept: dict[str, tuple[float, int]] = field(default_factory=dict)
    streams: Counter[str] = field(default_factory=Counter)
    watching: CapacityLimiter = field(default_factory=lambda: CapacityLimiter(8))
    making: OneAtATime = field(default_factory=OneAtATime)


def context_of(request: Request) -> AppContext:
    """The context of the application that a request came to."""
    context: AppContext = request.app.state.context
    return context


async def _context(request: Request) -> AppContext:
    """As `context_of`, without a thread to call it in."""
    return context_of(request)


Context = Annotated[AppContext, Depends(_context)]
