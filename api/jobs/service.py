"""Asking for jobs, finding and cancelling them.

A job is asked for once under an Idempotency-Key, written in the log, and queued, all in one transaction.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.http.paging import refusing_unknown_places
from api.http.problem_details import Problem
from api.idempotency.service import claim, digest
from api.jobs import repository
from api.jobs.model import OPEN, Event, Job, Kind, Status
from api.jobs.steps import Made
from api.projects.service import find_project, no_such_version


def request_job(
    context: AppContext,
    caller: Caller,
    project_id: str,
    kind: Kind,
    parameters: dict[str, Any],
    idempotency_key: str | None,
    version: int | None = None,
) -> Job:
    """A new job on a version of the project (None: its newest), or the one that an equal request made before.

    Raises Problem 404 when the caller's company has no such project, or the project no such version.
    """
    job_id = uuid.uuid4().hex
    asked_of = () if version is None else (str(version),)
    request_hash = digest(kind, project_id, repr(sorted(parameters.items())), *asked_of)
    with context.storage.writing() as connection:
        project = find_project(connection, caller, project_id)
        made = claim(connection, caller.company_id, idempotency_key, request_hash, job_id)
        if made is not None:
            return find_job(connection, caller, made, kind)
        if version is not None and not 1 <= version <= project.version:
            raise no_such_version(project.version, version)
        pinned = version or project.version
        return add_job(connection, context, caller, job_id, project_id, pinned, kind, parameters)


def add_job(
    connection: sa.Connection,
    context: AppContext,
    caller: Caller,
    job_id: str,
    project_id: str,
    project_version: int,
    kind: Kind,
    parameters: dict[str, Any],
) -> Job:
    """Keeps, logs and queues a job in the caller's transaction. Raises Problem 429 beyond the company's quota."""
    refuse_too_many(connection, context, caller)
    log_job(connection, caller, job_id, project_id, project_version, kind, parameters)
    context.queue.put(connection, job_id)
    return find_job(connection, caller, job_id, kind)


def refuse_too_many(connection: sa.Connection, context: AppContext, caller: Caller) -> None:
    """Raises Problem 429 when as many jobs of the company are open as one may have."""
    most = context.settings.open_jobs
    if most and repository.count_of_open_jobs(connection, caller.company_id) >= most:
        raise Problem(
            429,
            "too-many-requests",
            f"{most} jobs of yours are queued or running: wait for one to end, or cancel one.",
            headers={"Retry-After": "30"},
        )


def log_job(
    connection: sa.Connection,
    caller: Caller,
    job_id: str,
    project_id: str,
    project_version: int,
    kind: Kind,
    parameters: dict[str, Any],
) -> None:
    """Keeps and logs a job in the caller's transaction, without handing it to a worker."""
    repository.add_job(
        connection,
        job_id,
        company_id=caller.company_id,
        project_id=project_id,
        project_version=project_version,
        kind=kind,
        parameters=parameters,
        who=caller.who,
    )
    log_change(connection, caller.company_id, project_id, f"{kind} {job_id}", "requested", caller.who)


def keep_input(connection: sa.Connection, job_id: str, step: str, document: str) -> None:
    """Keeps what a job's first step works from as if an earlier step had made it, in the caller's transaction."""
    repository.keep_step(connection, job_id, step, document)


def finish_at_once(connection: sa.Connection, job_id: str, made: Made) -> None:
    """Ends a job that was made while its request waited, in the caller's transaction."""
    repository.start_job(connection, job_id, "at once")
    repository.finish_job(connection, job_id, made)


def cancel_job(context: AppContext, caller: Caller, job_id: str, kind: Kind) -> Job:
    """Cancels a job that is queued or running.

    Raises Problem 404 when the caller's company has no such job, 409 when it is done or failed.
    """
    with context.storage.writing() as connection:
        row = find_job(connection, caller, job_id, kind)
        if repository.cancel_job(connection, job_id, caller.who):
            log_change(
                connection, caller.company_id, row.project_id, f"{kind} {job_id}", "cancelled", caller.who
            )
        row = find_job(connection, caller, job_id, kind)
    if row.status != "cancelled":
        raise Problem(
            409, "has-ended", f"The {kind} {job_id} {_stands(row)}; it is kept.", job_status=row.status
        )
    context.queue.cancel(job_id)
    return row


def cancel_unless_ended(context: AppContext, caller: Caller, job_id: str, kind: Kind) -> None:
    """Cancels a job for a page, which says itself what became of a job that ended meanwhile. Raises Problem 404."""
    try:
        cancel_job(context, caller, job_id, kind)
    except Problem as problem:
        if problem.status != 409:
            raise


def get_job(context: AppContext, caller: Caller, job_id: str, kind: Kind) -> Job:
    """The caller's job of this kind. Raises Problem 404."""
    with context.storage.reading() as connection:
        return find_job(connection, caller, job_id, kind)


def job_with_result(context: AppContext, caller: Caller, job_id: str, kind: Kind) -> tuple[Job, bytes | None]:
    """The caller's job of this kind and, once it is done, what it made as UTF-8 JSON. Raises Problem 404."""
    with context.storage.reading() as connection:
        row = find_job(connection, caller, job_id, kind)
        return row, result_of(connection, row)


def finished_job(context: AppContext, caller: Caller, job_id: str, kind: Kind) -> tuple[Job, bytes]:
    """The caller's job of this kind and what it made, as UTF-8 JSON. Raises Problem 404, or 409 while it is not
    done."""
    with context.storage.reading() as connection:
        return find_finished_job(connection, caller, job_id, kind)


def jobs_page(
    context: AppContext,
    caller: Caller,
    project_id: str,
    kind: Kind | Sequence[Kind],
    limit: int,
    after: str | None = None,
    *,
    status: Status | None = None,
    since: str | None = None,
) -> list[Job]:
    """A page of a project's jobs of a kind, or of several, newest first; only those of a status, and those that were
    asked for from a moment on, where these are given.

    Raises Problem 404 when the caller's company has no such project, 422 when `after` is none of them.
    """
    with context.storage.reading() as connection, refusing_unknown_places():
        find_project(connection, caller, project_id)
        kinds = (kind,) if isinstance(kind, str) else kind
        return repository.jobs_of_project(
            connection, caller.company_id, project_id, kinds, limit, after, status=status, since=since
        )


def find_job(connection: sa.Connection, caller: Caller, job_id: str, kind: Kind) -> Job:
    """The caller's job of this kind. Raises Problem 404."""
    row = repository.job_with_id(connection, caller.company_id, job_id, kind)
    if row is None:
        raise Problem(404, "not-found", f"There is no {kind} {job_id[:40]}.")
    return row


def find_finished_job(
    connection: sa.Connection, caller: Caller, job_id: str, kind: Kind
) -> tuple[Job, bytes]:
    """The caller's job of this kind and what it made, as UTF-8 JSON. Raises Problem 404, or 409 while it is not
    done."""
    row = find_done_job(connection, caller, job_id, kind)
    document = result_of(connection, row)
    assert document is not None, f"{kind} {job_id} is done and made nothing"
    return row, document


def find_done_job(connection: sa.Connection, caller: Caller, job_id: str, kind: Kind) -> Job:
    """The caller's job of this kind. Raises Problem 404, or 409 while it is not done."""
    row = find_job(connection, caller, job_id, kind)
    if row.status != "done":
        raise Problem(
            409,
            f"{kind}-not-done",
            f"{kind.capitalize()} {job_id} {_stands(row)}.",
            **{f"{kind}_status": row.status},
        )
    return row


def _stands(job: Job) -> str:
    """How a job stands: 'is running', 'has failed'."""
    return "has failed" if job.status == "failed" else f"is {job.status}"


def result_of(connection: sa.Connection, job: Job) -> bytes | None:
    """What a job made, as UTF-8 JSON; None while it is not done."""
    return repository.result_of(connection, job.id) if job.status == "done" else None


def stored_result_of(connection: sa.Connection, job: Job) -> bytes:
    """What a job that is done made, as it is kept: UTF-8 JSON in zlib's form."""
    return repository.stored_result_of(connection, job.id)


def recent_jobs(
    connection: sa.Connection, caller: Caller, project_id: str, kind: Kind, limit: int
) -> list[Job]:
    """The newest jobs of a kind of the caller's project, newest first."""
    return repository.jobs_of_project(connection, caller.company_id, project_id, (kind,), limit, None)


def newest_done_job(connection: sa.Connection, caller: Caller, project_id: str, kind: Kind) -> Job | None:
    """The newest job of a kind of the caller's project that is done, however many were asked for since."""
    found = repository.jobs_of_project(
        connection, caller.company_id, project_id, (kind,), 1, None, status="done"
    )
    return found[0] if found else None


def newest_job(
    context: AppContext, caller: Caller, project_id: str, kind: Kind
) -> tuple[Job, bytes | None] | None:
    """The newest job of a kind of the caller's project, and what it made once it is done."""
    with context.storage.reading() as connection:
        rows = recent_jobs(connection, caller, project_id, kind, 1)
        return (rows[0], result_of(connection, rows[0])) if rows else None


def missed_events(context: AppContext, caller: Caller, job_id: str, kind: Kind, number: int) -> bool:
    """Whether there are, or may yet be, events of the caller's job after one's number. Raises Problem 404."""
    with context.storage.reading() as connection:
        row = find_job(connection, caller, job_id, kind)
        if row.status in OPEN:
            return True
        return bool(repository.events_after(connection, job_id, number, limit=1))


def events_after(context: AppContext, job_id: str, number: int) -> list[Event]:
    """A job's events after one's number."""
    with context.storage.reading() as connection:
        return repository.events_after(connection, job_id, number)
