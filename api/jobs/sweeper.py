"""A worker's heartbeat, and the sweep that hands the jobs of dead workers to the living.

The engine resumes a worker's own jobs when a worker of the same name starts; nobody else takes them. So every
worker writes that it is alive, and each looks for jobs whose worker is not: at once where it can see that the
process is gone, else after `dead_after_seconds` without a heartbeat. Handing on is one conditional update, so
several sweepers do it once; a worker that was only slow finds that its steps are no longer its own.
"""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta

import structlog
from dbos import DBOS

from api.jobs.identity import is_surely_dead
from api.jobs.queue import RUN_JOB, RUN_PART
from api.jobs.repository import (
    beat_heart,
    fail_job,
    kinds_of_open_jobs,
    names_of_living_workers,
    say_goodbye,
)
from api.problem_details import problem_document
from api.settings import Settings
from api.storage.engine import Storage

_GIVEN_UP = ("ERROR", "MAX_RECOVERY_ATTEMPTS_EXCEEDED", "CANCELLED", "SUCCESS")
_RECONCILE_SECONDS = 15.0


class Heart:
    """Beats and sweeps in a thread until it is stopped."""

    def __init__(self, storage: Storage, settings: Settings, name: str) -> None:
        self.storage, self.settings, self.name = storage, settings, name
        self._stop = threading.Event()
        self._beating_since: float | None = None
        self._reconciled = time.monotonic()
        self._thread = threading.Thread(target=self._run, name="heart", daemon=True)

    def start(self) -> None:
        """Beats for the first time, then from a thread. Raises when the database does not answer."""
        with self.storage.writing() as connection:
            beat_heart(connection, self.name)
        self._beating_since = time.monotonic()

    def start_sweeping(self) -> None:
        """Starts the thread; the engine must be running."""
        self._thread.start()

    def stop(self) -> None:
        """Stops, and takes this worker from the list, so that others need not wait for what it leaves."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(5)
        with self.storage.writing() as connection:
            say_goodbye(connection, self.name)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                with self.storage.writing() as connection:
                    beat_heart(connection, self.name)
                self._beating_since = self._beating_since or time.monotonic()
                self._sweep()
                if time.monotonic() - self._reconciled > _RECONCILE_SECONDS:
                    self._reconciled = time.monotonic()
                    self._reconcile()
                    self._forget()
            except Exception as error:  # the database is away: so are everybody's heartbeats
                self._beating_since = None
                structlog.get_logger().warning("heart_missed", worker=self.name, error=type(error).__name__)
            self._stop.wait(self.settings.heartbeat_seconds)

    def _sweep(self) -> None:
        pending = DBOS.list_workflows(
            status="PENDING", name=[RUN_JOB, RUN_PART], load_input=False, load_output=False
        )
        owners = {workflow.executor_id for workflow in pending if workflow.executor_id} - {self.name}
        if not owners:
            return
        with self.storage.reading() as connection:
            living = names_of_living_workers(connection, self.settings.dead_after_seconds)
        patient = (
            time.monotonic() - (self._beating_since or time.monotonic()) > self.settings.dead_after_seconds
        )
        dead = [owner for owner in owners if is_surely_dead(owner) or (owner not in living and patient)]
        if dead:
            structlog.get_logger().warning("taking_over", worker=self.name, dead=dead)
            DBOS._recover_pending_workflows(dead)
            with self.storage.writing() as connection:
                for owner in dead:
                    say_goodbye(connection, owner)

    def _forget(self) -> None:
        """Deletes the engine's records of jobs that ended a day ago: what counts is in our own tables."""
        day_ago = (datetime.now(UTC) - timedelta(days=1)).isoformat()
        old = DBOS.list_workflows(
            completed_before=day_ago,
            status=list(_GIVEN_UP),
            limit=200,
            load_input=False,
            load_output=False,
        )
        if old:
            DBOS.delete_workflows([workflow.workflow_id for workflow in old])

    def _reconcile(self) -> None:
        """Fails the jobs that the engine has given up, so that none waits for ever."""
        with self.storage.reading() as connection:
            waiting = kinds_of_open_jobs(connection)
        if not waiting:
            return
        for workflow in DBOS.list_workflows(workflow_ids=list(waiting), load_input=False, load_output=False):
            if workflow.status in _GIVEN_UP:
                error = problem_document(
                    500,
                    "internal-error",
                    "The job was given up after its workers had ended too often.",
                    instance=f"/{waiting[workflow.workflow_id]}s/{workflow.workflow_id}",
                )
                with self.storage.writing() as connection:
                    fail_job(connection, workflow.workflow_id, error)
