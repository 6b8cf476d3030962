"""Asking for a job: once under an Idempotency-Key, written in the log, and queued in one transaction."""

from __future__ import annotations

import uuid
from typing import Any

import sqlalchemy as sa

from api.accounts.access import Caller
from api.changes import log_change
from api.idempotency import claim, digest
from api.jobs.repository import Job, Kind, add_job, cancel_job, job_with_id, result_of
from api.problem_details import Problem
from api.projects.routes import found_project
from api.service import Service


def request_job(
    service: Service,
    caller: Caller,
    project_id: str,
    kind: Kind,
    parameters: dict[str, Any],
    idempotency_key: str | None,
) -> Job:
    """A new job on the project's newest version, or the one that an equal request made before.

    Raises Problem 404 when the caller's company has no such project.
    """
    job_id = uuid.uuid4().hex
    request_hash = digest(kind, project_id, repr(sorted(parameters.items())))
    with service.storage.writing() as connection:
        project = found_project(connection, caller, project_id)
        made = claim(connection, caller.company_id, idempotency_key, request_hash, job_id)
        if made is not None:
            return found_job(connection, caller, made, kind)
        return add_requested_job(
            connection, service, caller, job_id, project_id, project.version, kind, parameters
        )


def add_requested_job(
    connection: sa.Connection,
    service: Service,
    caller: Caller,
    job_id: str,
    project_id: str,
    project_version: int,
    kind: Kind,
    parameters: dict[str, Any],
) -> Job:
    """Keeps, logs and queues a job in the caller's transaction."""
    add_job(
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
    service.queue.put(connection, job_id)
    return found_job(connection, caller, job_id, kind)


def cancel_requested_job(service: Service, caller: Caller, job_id: str, kind: Kind) -> Job:
    """Cancels a job that is queued or running.

    Raises Problem 404 when the caller's company has no such job, 409 when it is done or failed.
    """
    with service.storage.writing() as connection:
        row = found_job(connection, caller, job_id, kind)
        if cancel_job(connection, job_id, caller.who):
            log_change(
                connection, caller.company_id, row.project_id, f"{kind} {job_id}", "cancelled", caller.who
            )
        row = found_job(connection, caller, job_id, kind)
    if row.status != "cancelled":
        raise Problem(
            409, "has-ended", f"The {kind} {job_id} is {row.status}; it is kept.", job_status=row.status
        )
    service.queue.cancel(job_id)
    return row


def cancel_unless_ended(service: Service, caller: Caller, job_id: str, kind: Kind) -> None:
    """Cancels a job for a page, which says itself what became of a job that ended meanwhile. Raises Problem 404."""
    try:
        cancel_requested_job(service, caller, job_id, kind)
    except Problem as problem:
        if problem.status != 409:
            raise


def found_job(connection: sa.Connection, caller: Caller, job_id: str, kind: Kind) -> Job:
    """The caller's job of this kind. Raises Problem 404."""
    row = job_with_id(connection, caller.company_id, job_id, kind)
    if row is None:
        raise Problem(404, "not-found", f"There is no {kind} {job_id[:40]}.")
    return row


def finished_job(connection: sa.Connection, caller: Caller, job_id: str, kind: Kind) -> tuple[Job, bytes]:
    """The caller's job of this kind and what it made, as UTF-8 JSON. Raises Problem 404, or 409 while it is not
    done."""
    row = found_job(connection, caller, job_id, kind)
    document = result_of(connection, job_id) if row.status == "done" else None
    if document is None:
        raise Problem(
            409,
            f"{kind}-not-done",
            f"{kind.capitalize()} {job_id} is {row.status}.",
            **{f"{kind}_status": row.status},
        )
    return row, document
