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

from api.http.problem_details import problem_document
from api.jobs.queue import RUN_JOB, RUN_PART
from api.jobs.repository import fail_job, kinds_of_open_jobs
from api.settings import Settings
from api.storage.engine import Storage
from api.workers.identity import is_surely_dead
from api.workers.repository import deregister, live_workers, record_heartbeat

_GIVEN_UP = ("ERROR", "MAX_RECOVERY_ATTEMPTS_EXCEEDED", "CANCELLED", "SUCCESS")
_RECONCILE_SECONDS = 15.0


class Heartbeat:
    """A worker's sign of life in the database."""

    def __init__(self, storage: Storage, name: str) -> None:
        self._storage, self._name = storage, name
        self._since: float | None = None

    def record(self) -> None:
        """Writes that the worker is alive. Raises SQLAlchemyError when the database does not answer."""
        with self._storage.writing() as connection:
            record_heartbeat(connection, self._name)
        self._since = self._since or time.monotonic()

    def deregister(self) -> None:
        """Takes the worker from the list, so that others need not wait for what it leaves."""
        with self._storage.writing() as connection:
            deregister(connection, self._name)

    def interrupted(self) -> None:
        """Counts again from the next heartbeat: the database was away, so others' heartbeats are old too."""
        self._since = None

    def recorded_for(self) -> float:
        """For how many seconds every heartbeat has been recorded."""
        return 0.0 if self._since is None else time.monotonic() - self._since


class Sweeper:
    """Records heartbeats and sweeps, in a thread, until it is stopped."""

    def __init__(self, storage: Storage, settings: Settings, name: str) -> None:
        self.storage, self.settings, self.name = storage, settings, name
        self.heartbeat = Heartbeat(storage, name)
        self._stop = threading.Event()
        self._reconciled = time.monotonic()
        self._thread = threading.Thread(target=self._run, name="sweeper", daemon=True)

    def start(self) -> None:
        """Starts the thread; the engine must be running."""
        self._thread.start()

    def stop(self) -> None:
        """Stops, and deregisters the worker."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(5)
        self.heartbeat.deregister()

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self.heartbeat.record()
                self._sweep()
                if time.monotonic() - self._reconciled > _RECONCILE_SECONDS:
                    self._reconciled = time.monotonic()
                    self._reconcile()
                    self._purge()
            except Exception as error:  # the database is away: so are everybody's heartbeats
                self.heartbeat.interrupted()
                structlog.get_logger().warning(
                    "heartbeat_missed", worker=self.name, error=type(error).__name__
                )
            self._stop.wait(self.settings.heartbeat_seconds)

    def _sweep(self) -> None:
        pending = DBOS.list_workflows(
            status="PENDING", name=[RUN_JOB, RUN_PART], load_input=False, load_output=False
        )
        owners = {workflow.executor_id for workflow in pending if workflow.executor_id} - {self.name}
        if not owners:
            return
        with self.storage.reading() as connection:
            live = live_workers(connection, self.settings.dead_after_seconds)
        waited = self.heartbeat.recorded_for() > self.settings.dead_after_seconds
        dead = [owner for owner in owners if is_surely_dead(owner) or (owner not in live and waited)]
        if dead:
            structlog.get_logger().warning("taking_over", worker=self.name, dead=dead)
            DBOS._recover_pending_workflows(dead)
            with self.storage.writing() as connection:
                for owner in dead:
                    deregister(connection, owner)

    def _purge(self) -> None:
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
