"""Jobs in the database: their status, steps, events and results.

Every change of a job first writes its row, so that on PostgreSQL the row's lock puts a job's events in order.
A job that has ended (done, failed, cancelled) never changes again.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from api import clock
from api.jobs.excerpts import replace_excerpts
from api.jobs.model import OPEN, Event, Job, Kind, Status
from api.jobs.steps import Made
from api.storage.engine import insert_into
from api.storage.pages import rows_of_page
from api.storage.tables import compressed, job_events, job_results, job_steps, jobs, restored


def add_job(
    connection: sa.Connection,
    job_id: str,
    *,
    company_id: str,
    project_id: str,
    project_version: int,
    kind: Kind,
    parameters: dict[str, Any],
    who: str,
) -> None:
    """A new job, queued."""
    connection.execute(
        sa.insert(jobs).values(
            id=job_id,
            company_id=company_id,
            project_id=project_id,
            project_version=project_version,
            kind=kind,
            parameters=json.dumps(parameters),
            status="queued",
            created_at=clock.now(),
            created_by=who,
        )
    )
    _add_event(connection, job_id, "status", {"status": "queued"})


def job_with_id(connection: sa.Connection, company_id: str, job_id: str, kind: Kind) -> Job | None:
    """A company's job."""
    return connection.execute(
        sa.select(jobs).where(jobs.c.id == job_id, jobs.c.company_id == company_id, jobs.c.kind == kind)
    ).first()


def jobs_of_project(
    connection: sa.Connection,
    company_id: str,
    project_id: str,
    kinds: Sequence[Kind],
    limit: int,
    after: str | None,
    *,
    status: Status | None = None,
    since: str | None = None,
) -> list[Job]:
    """A project's jobs of these kinds, newest first; `after` is the last job's id of the page before. Only those of a
    status, and those that were asked for from a moment on, where these are given."""
    wanted = [jobs.c.company_id == company_id, jobs.c.project_id == project_id, jobs.c.kind.in_(kinds)]
    wanted += [] if status is None else [jobs.c.status == status]
    wanted += [] if since is None else [jobs.c.created_at >= since]
    mine = sa.and_(*wanted)
    return rows_of_page(connection, jobs, mine, limit, after)


def job_to_run(connection: sa.Connection, job_id: str) -> Job | None:
    """A job as its worker sees it."""
    return connection.execute(sa.select(jobs).where(jobs.c.id == job_id)).first()


def status_of(connection: sa.Connection, job_id: str) -> str | None:
    """A job's status."""
    status: str | None = connection.scalar(sa.select(jobs.c.status).where(jobs.c.id == job_id))
    return status


def start_job(connection: sa.Connection, job_id: str, worker: str) -> bool:
    """Marks a job as running on a worker; False when it has ended."""
    if not _change(
        connection,
        job_id,
        status="running",
        worker=worker,
        started_at=clock.now(),
    ):
        return False
    _add_event(connection, job_id, "status", {"status": "running"})
    return True


def report_step(
    connection: sa.Connection, job_id: str, worker: str, step: str, fraction: float | None, **more: Any
) -> bool:
    """Writes how far a job is, and who is at it; False when it has ended."""
    if not _change(connection, job_id, worker=worker, step=step, fraction=fraction):
        return False
    _add_event(connection, job_id, "progress", {"step": step, "fraction": fraction, **more})
    return True


def keep_step(connection: sa.Connection, job_id: str, step: str, document: str) -> None:
    """Keeps what a step made; what an earlier attempt of it made stays."""
    row = {"job_id": job_id, "step": step, "document": compressed(document)}
    connection.execute(insert_into(connection, job_steps).values(row).on_conflict_do_nothing())


def kept_step(connection: sa.Connection, job_id: str, step: str) -> str | None:
    """What a step made, or None."""
    document = connection.scalar(
        sa.select(job_steps.c.document).where(job_steps.c.job_id == job_id, job_steps.c.step == step)
    )
    return None if document is None else restored(document).decode()


def names_of_kept_steps(connection: sa.Connection, job_id: str) -> list[str]:
    """The steps of an unfinished job whose documents are kept."""
    return list(connection.scalars(sa.select(job_steps.c.step).where(job_steps.c.job_id == job_id)))


def finish_job(connection: sa.Connection, job_id: str, made: Made) -> bool:
    """Ends a job with what it made; False when it had ended before."""
    if not _change(
        connection,
        job_id,
        status="done",
        fraction=1.0,
        finished_at=clock.now(),
        summary=json.dumps(made.summary),
    ):
        return False
    connection.execute(sa.insert(job_results).values(job_id=job_id, document=compressed(made.document)))
    replace_excerpts(connection, job_id, made.excerpts)
    _drop_steps(connection, job_id)
    _add_event(connection, job_id, "status", {"status": "done", "summary": made.summary})
    return True


def fail_job(connection: sa.Connection, job_id: str, error: dict[str, Any]) -> bool:
    """Ends a job with a problem document's members; False when it had ended before."""
    if not _change(connection, job_id, status="failed", finished_at=clock.now(), error=json.dumps(error)):
        return False
    _drop_steps(connection, job_id)
    _add_event(connection, job_id, "status", {"status": "failed", "error": error})
    return True


def cancel_job(connection: sa.Connection, job_id: str, who: str) -> bool:
    """Ends a job that is no longer wanted; False when it had ended before."""
    if not _change(connection, job_id, status="cancelled", finished_at=clock.now()):
        return False
    _drop_steps(connection, job_id)
    _add_event(connection, job_id, "status", {"status": "cancelled", "by": who})
    return True


def result_of(connection: sa.Connection, job_id: str) -> bytes | None:
    """A job's result as UTF-8 JSON."""
    document = connection.scalar(sa.select(job_results.c.document).where(job_results.c.job_id == job_id))
    return None if document is None else restored(document)


def stored_result_of(connection: sa.Connection, job_id: str) -> bytes:
    """The result of a job that is done, as it is kept."""
    document: bytes = connection.execute(
        sa.select(job_results.c.document).where(job_results.c.job_id == job_id)
    ).scalar_one()
    return bytes(document)


def events_after(connection: sa.Connection, job_id: str, number: int, limit: int = 500) -> list[Event]:
    """A job's events after one's number."""
    rows = connection.execute(
        sa.select(job_events)
        .where(job_events.c.job_id == job_id, job_events.c.number > number)
        .order_by(job_events.c.number)
        .limit(limit)
    )
    return [Event(row.number, row.at, row.kind, json.loads(row.data)) for row in rows]


def last_event_numbers(connection: sa.Connection, job_ids: list[str]) -> dict[str, int]:
    """The number of each job's newest event."""
    rows = connection.execute(
        sa.select(job_events.c.job_id, sa.func.max(job_events.c.number))
        .where(job_events.c.job_id.in_(job_ids))
        .group_by(job_events.c.job_id)
    )
    return {row[0]: row[1] for row in rows}


def count_of_jobs(connection: sa.Connection) -> list[tuple[str, str, int]]:
    """How many jobs there are by kind and status."""
    rows = connection.execute(
        sa.select(jobs.c.kind, jobs.c.status, sa.func.count()).group_by(jobs.c.kind, jobs.c.status)
    )
    return [(row[0], row[1], row[2]) for row in rows]


def count_of_open_jobs(connection: sa.Connection, company_id: str) -> int:
    """How many of a company's jobs have not ended."""
    count = connection.scalar(
        sa.select(sa.func.count())
        .select_from(jobs)
        .where(jobs.c.status.in_(OPEN), jobs.c.company_id == company_id)
    )
    return count or 0


def kinds_of_open_jobs(connection: sa.Connection, limit: int = 500) -> dict[str, Kind]:
    """The kinds of jobs that have not ended by their ids, oldest first."""
    rows = connection.execute(
        sa.select(jobs.c.id, jobs.c.kind)
        .where(jobs.c.status.in_(OPEN))
        .order_by(jobs.c.created_at)
        .limit(limit)
    )
    return {row.id: row.kind for row in rows}


def _change(connection: sa.Connection, job_id: str, **values: Any) -> bool:
    done = connection.execute(
        sa.update(jobs).where(jobs.c.id == job_id, jobs.c.status.in_(OPEN)).values(**values)
    )
    return done.rowcount == 1


def _drop_steps(connection: sa.Connection, job_id: str) -> None:
    connection.execute(sa.delete(job_steps).where(job_steps.c.job_id == job_id))


def _add_event(connection: sa.Connection, job_id: str, kind: str, data: dict[str, Any]) -> None:
    number = sa.select(sa.func.coalesce(sa.func.max(job_events.c.number), 0) + 1).where(
        job_events.c.job_id == job_id
    )
    connection.execute(
        sa.insert(job_events).values(
            job_id=job_id, number=number.scalar_subquery(), at=clock.now(), kind=kind, data=json.dumps(data)
        )
    )
