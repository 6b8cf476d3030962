"""Asking for a job: once under an Idempotency-Key, written in the log, and queued in one transaction."""

from __future__ import annotations

import uuid
from typing import Any

from api.accounts.access import Caller
from api.changes import log_change
from api.idempotency import claim, digest
from api.jobs.repository import Job, Kind, add_job, cancel_job, job_with_id
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
        if made is None:
            add_job(
                connection,
                job_id,
                company_id=caller.company_id,
                project_id=project_id,
                project_version=project.version,
                kind=kind,
                parameters=parameters,
                who=caller.who,
            )
            log_change(connection, caller.company_id, project_id, f"{kind} {job_id}", "requested", caller.who)
            service.queue.put(connection, job_id)
        row = job_with_id(connection, caller.company_id, made or job_id, kind)
    assert row is not None
    return row


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


def found_job(connection: Any, caller: Caller, job_id: str, kind: Kind) -> Job:
    """The caller's job of this kind. Raises Problem 404."""
    row = job_with_id(connection, caller.company_id, job_id, kind)
    if row is None:
        raise Problem(404, "not-found", f"There is no {kind} {job_id[:40]}.")
    return row
