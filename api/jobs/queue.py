"""Handing jobs to the workers: in the very transaction that keeps the job, so that neither is without the other.

The durable execution engine (DBOS) keeps its tables beside ours, in the same database.
"""

from __future__ import annotations

import contextlib
import json

import sqlalchemy as sa
from dbos import DBOS, DBOSClient

from api.jobs.model import OPEN, Kind
from api.jobs.repository import job_to_run
from api.jobs.turns import SHARED_OUT, expected_seconds, is_short, next_turn
from api.storage.engine import Storage
from api.storage.tables import jobs, project_versions

APPLICATION, VERSION = "barrier-orders", "1"
JOBS, PARTS = "jobs", "parts"  # queues: long jobs, and the parts that a job is shared out in
SHORT, SHARED = "short jobs", "shared out jobs"  # those that take seconds; those that only share out and join
_ENGINES_SCHEMA = "dbos"  # where the engine keeps its tables on PostgreSQL
_SHARED_AT_ONCE = 50  # they wait for their parts, and take no processor
_LOOKED_FOR = {SHORT: 1, PARTS: 2, SHARED: 4, JOBS: 4}
"""How many times `poll_seconds` pass until a worker looks for more: what takes long may wait a moment, and an idle
worker that looks everywhere at once takes a tenth of a processor."""
RUN_JOB, RUN_PART = "run_job", "run_part"


class JobQueue:
    """The queue as the serving process sees it."""

    def __init__(self, storage: Storage) -> None:
        DBOS.migrate(engine_url(storage.url))
        self._client = DBOSClient(
            system_database_engine=storage.engine, application_name=APPLICATION, retry_connection_errors=False
        )

    def declare(self, jobs_at_once: int, poll_seconds: float) -> None:
        """Says how many jobs, and how many parts of jobs, a worker takes at once, and how often it looks for more:
        every `poll_seconds` for short jobs, some times as seldom for others. The database keeps it for all workers: the
        last to start decides."""
        for queue, times in _LOOKED_FOR.items():
            self._client.register_queue(
                queue,
                worker_concurrency=_SHARED_AT_ONCE if queue == SHARED else jobs_at_once,
                polling_interval_sec=times * poll_seconds,
                on_conflict="always_update",
            )

    def put(self, connection: sa.Connection, job_id: str) -> None:
        """Queues a job as part of the caller's transaction, at its turn."""
        job = job_to_run(connection, job_id)
        assert job is not None, "the job is kept before it is queued"
        kind: Kind = job.kind
        size = connection.scalar(
            sa.select(sa.func.length(project_versions.c.document)).where(
                project_versions.c.project_id == job.project_id,
                project_versions.c.version == job.project_version,
            )
        )
        seconds = expected_seconds(kind, json.loads(job.parameters), size or 0)
        queue = SHARED if kind in SHARED_OUT else SHORT if is_short(kind, seconds) else JOBS
        self._client.enqueue_in_transaction(
            connection,
            {
                "workflow_name": RUN_JOB,
                "queue_name": queue,
                "workflow_id": job_id,
                "app_version": VERSION,
                "priority": next_turn(self._last_turn(connection, job.company_id), seconds),
            },
            job_id,
        )

    def _last_turn(self, connection: sa.Connection, company_id: str) -> int | None:
        """The latest turn of a company's open jobs."""
        queued = sa.table(
            "workflow_status",
            sa.column("workflow_uuid", sa.String),
            sa.column("priority", sa.Integer),
            schema=None if connection.dialect.name == "sqlite" else _ENGINES_SCHEMA,
        ).c
        found: int | None = connection.scalar(
            sa.select(sa.func.max(queued.priority)).where(
                queued.workflow_uuid.in_(
                    sa.select(jobs.c.id).where(jobs.c.company_id == company_id, jobs.c.status.in_(OPEN))
                )
            )
        )
        return found

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
