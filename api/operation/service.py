"""Whether the service can serve, and how much it has to do."""

from __future__ import annotations

import shutil
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path

import structlog
from sqlalchemy.exc import SQLAlchemyError

from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.repository import count_of_jobs
from api.settings import sqlite_path
from api.workers.repository import live_workers, write_and_read

_GOOD_FOR_SECONDS = 1.0  # anybody may ask, and each look writes


@dataclass(frozen=True)
class _Look:
    at: float
    workers: int
    lacks: tuple[str, ...]


class Readiness:
    """What a service needs to serve: a database that takes and gives rows, a disk with room, a worker that is alive."""

    def __init__(self, context: AppContext) -> None:
        self._context, self._looking = context, threading.Lock()
        self._last: _Look | None = None

    def workers(self) -> int:
        """How many workers are alive. Looks at most once a second, whoever asks.

        Raises Problem 503 when the service is stopping, and when it lacks something, with what in `lacks`.
        """
        if self._context.stopping.is_set():
            raise Problem(503, "stopping", "The service is stopping.", headers={"Retry-After": "5"})
        with self._looking:
            look = self._last
            if look is None or time.monotonic() - look.at > _GOOD_FOR_SECONDS:
                look = self._last = self._look()
        if look.lacks:
            raise Problem(
                503, "not-ready", " ".join(look.lacks), headers={"Retry-After": "5"}, lacks=list(look.lacks)
            )
        return look.workers

    def _look(self) -> _Look:
        context, lacks, alive = self._context, list(_full_disks(self._context)), 0
        try:
            with context.storage.writing() as connection:
                write_and_read(connection)
            with context.storage.reading() as connection:
                alive = len(live_workers(connection, context.settings.dead_after_seconds))
            if not alive:
                lacks.append("No worker is alive: what is planned in the background waits.")
        except SQLAlchemyError as error:
            structlog.get_logger().warning("not_ready", error=type(error).__name__, says=str(error)[:200])
            lacks.append("The database does not take and give back a row.")
        return _Look(time.monotonic(), alive, tuple(lacks))


def _full_disks(context: AppContext) -> list[str]:
    """The disks of the service's own that have too little room; the database server's is its own matter."""
    settings = context.settings
    folders = {
        "the anchor of issued orders": settings.anchor_path.parent,
        "uploads": Path(tempfile.gettempdir()),
    }
    if settings.embedded:
        folders["the database"] = sqlite_path(settings.database_url).parent
    found = []
    for what, folder in folders.items():
        try:
            free = shutil.disk_usage(folder).free // 2**20
        except OSError:
            continue
        if free < settings.disk_megabytes:
            found.append(f"The disk of {what} has {free} MB left, less than {settings.disk_megabytes}.")
    return found


def counts(context: AppContext) -> tuple[list[tuple[str, str, int]], int]:
    """How many jobs there are by kind and status, and how many workers are alive."""
    with context.storage.reading() as connection:
        return (
            count_of_jobs(connection),
            len(live_workers(connection, context.settings.dead_after_seconds)),
        )
