"""What the steps of a worker process work with."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from api.settings import Settings
from api.storage.engine import Storage

_COUNTING = threading.Lock()


class WorkerContext:
    """Set once when the worker starts: the engine calls the steps with their arguments only.

    `running_jobs` counts the jobs, and the parts of jobs, that are under way here.
    """

    storage: Storage
    settings: Settings
    name: str
    running_jobs = 0

    @classmethod
    @contextmanager
    def counting_a_job(cls) -> Iterator[None]:
        """Counts a job as running while the block runs."""
        with _COUNTING:
            cls.running_jobs += 1
        try:
            yield
        finally:
            with _COUNTING:
                cls.running_jobs -= 1
