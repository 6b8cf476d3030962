"""Whether the service can serve, and how much it has to do."""

from __future__ import annotations

from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.repository import count_of_jobs
from api.workers.repository import live_workers


def ready_workers(context: AppContext) -> int:
    """How many workers are alive. Raises Problem 503 when the service is stopping."""
    if context.stopping.is_set():
        raise Problem(503, "stopping", "The service is stopping.", headers={"Retry-After": "5"})
    context.storage.ping()
    with context.storage.reading() as connection:
        return len(live_workers(connection, context.settings.dead_after_seconds))


def counts(context: AppContext) -> tuple[list[tuple[str, str, int]], int]:
    """How many jobs there are by kind and status, and how many workers are alive."""
    with context.storage.reading() as connection:
        return (
            count_of_jobs(connection),
            len(live_workers(connection, context.settings.dead_after_seconds)),
        )
