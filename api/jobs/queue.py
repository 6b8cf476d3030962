"""Handing jobs to the workers: in the very transaction that keeps the job, so that neither is without the other.

The durable execution engine (DBOS) keeps its tables beside ours, in the same database.
"""

from __future__ import annotations

import contextlib

import sqlalchemy as sa
from dbos import DBOS, DBOSClient

from api.storage.engine import Storage

APPLICATION, VERSION = "barrier-orders", "1"
JOBS, PARTS = "jobs", "parts"  # queues: whole jobs, and the parts that a job is shared out in
RUN_JOB, RUN_PART = "run_job", "run_part"


class JobQueue:
    """The queue as the serving process sees it."""

    def __init__(self, storage: Storage) -> None:
        DBOS.migrate(engine_url(storage.url))
        self._client = DBOSClient(
            system_database_engine=storage.engine, application_name=APPLICATION, retry_connection_errors=False
        )

    def declare(self, jobs_at_once: int, poll_seconds: float) -> None:
        """Says how many jobs, and how many parts of jobs, a worker takes at once, and how often it looks for
        more. The database keeps it for all workers: the last to start decides."""
        for queue in (JOBS, PARTS):
            self._client.register_queue(
                queue,
                worker_concurrency=jobs_at_once,
                polling_interval_sec=poll_seconds,
                on_conflict="always_update",
            )

    def put(self, connection: sa.Connection, job_id: str) -> None:
        """Queues a job as part of the caller's transaction."""
        self._client.enqueue_in_transaction(
            connection,
            {"workflow_name": RUN_JOB, "queue_name": JOBS, "workflow_id": job_id, "app_version": VERSION},
            job_id,
        )

    def cancel(self, job_id: str) -> None:
        """Takes a job from the queue, and stops it after its running step. The step's own process is ended by
        its worker, which sees the job's status."""
        with contextlib.suppress(Exception):  # the job's status is what counts: the worker reads it
            self._client.cancel_workflow(job_id)

    def close(self) -> None:
        """Lets go of the database."""
        self._client.destroy()


def engine_url(url: str) -> str:
    """A database's URL as DBOS takes it: it names the PostgreSQL driver itself."""
    return url.replace("postgresql+psycopg://", "postgresql://", 1)
