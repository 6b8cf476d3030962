"""Issuing orders under a project's next revision number, and finding what was issued."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.model import Job
from api.orders import repository
from api.orders.chain import FIRST, Issued, hash_of_revision
from api.orders.difference import Because, difference
from api.orders.putting import put_on_record
from api.projects.service import find_project, lock_project


def issue(
    context: AppContext,
    caller: Caller,
    job: Job,
    order: dict[str, Any],
    on_top_of: str | None = None,
    after_revision: int | None = None,
    because: Because | None = None,
    on_record: Collection[str] = (),
) -> tuple[Issued, bool]:
    """Freezes the order of a plan as the project's next revision, or that of a refit `on_top_of` its plan's, and puts
    what it orders on the record. `because` says why quantities change; `on_record` are the ids of the events that the
    plan was made from.

    The revision, and whether it is new: what is issued already stays as it is. Raises Problem 409 when the plan's
    order is not the last that was issued, or when another revision follows on `after_revision` already (0: on none;
    None: any may).
    """
    with context.storage.writing() as connection:
        lock_project(connection, job.project_id)
        known = repository.issued_from(connection, caller.company_id, job.id)
        if known is not None:
            return with_successor(known, newest_revision(connection, job.project_id)), False
        last, last_job = repository.last_issued(connection, job.project_id) or (None, None)
        if on_top_of is not None and last_job != on_top_of:
            raise Problem(
                409,
                "not-the-last-issued",
                f"A refit is ordered on top of its plan's order, and that of plan {on_top_of} is not the last that was"
                " issued. Issue it first, or refit the plan that was issued last.",
            )
        if after_revision is not None and (0 if last is None else last["revision"]) != after_revision:
            raise Problem(
                409,
                "not-the-last-issued",
                "Another revision was issued meanwhile. Look at it, then issue again.",
            )
        document = {
            "project_id": job.project_id,
            "revision": 1 if last is None else last["revision"] + 1,
            "plan_id": on_top_of or job.id,
            **({"refit_id": job.id} if on_top_of else {}),
            "project_version": job.project_version,
            "issued_at": clock.now(),
            "issued_by": caller.who,
            "order": order,
            "difference": difference(None if last is None else last["order"], order, because),
        }
        previous_hash = FIRST if last is None else last["hash"]
        issued = {
            **document,
            "previous_hash": previous_hash,
            "hash": hash_of_revision(previous_hash, document),
        }
        put_on_record(connection, caller, last, issued, on_record)
        repository.add_issued(connection, caller.company_id, job.id, issued)
        log_change(
            connection,
            caller.company_id,
            job.project_id,
            f"order revision {issued['revision']}",
            "issued",
            caller.who,
        )
    return issued, True


def with_successor(issued: Issued, newest: int) -> Issued:
    """An issued order with the newest revision as `superseded_by`, or None where it is that itself. It is no part of
    what was issued: no hash covers it."""
    return {**issued, "superseded_by": newest if newest > issued["revision"] else None}


def last_issued(connection: sa.Connection, project_id: str) -> Issued | None:
    """A project's last revision."""
    found = repository.last_issued(connection, project_id)
    return None if found is None else found[0]


def find_issued(connection: sa.Connection, caller: Caller, job_id: str) -> Issued | None:
    """The revision that the caller's plan or refit was issued as."""
    return repository.issued_from(connection, caller.company_id, job_id)


def issued_until(connection: sa.Connection, caller: Caller, issued: Issued) -> tuple[Issued, ...]:
    """The issued orders of a project up to one of them, the first one first."""
    found = repository.issued_orders_of(connection, caller.company_id, issued["project_id"])
    return tuple(one for one in found if one["revision"] <= issued["revision"])


def newest_revision(connection: sa.Connection, project_id: str) -> int:
    """The number of a project's last revision; 0 while nothing is issued."""
    last = last_issued(connection, project_id)
    return 0 if last is None else last["revision"]


def issued_from(context: AppContext, caller: Caller, job_id: str) -> Issued | None:
    """The revision that the caller's plan or refit was issued as."""
    with context.storage.reading() as connection:
        return find_issued(connection, caller, job_id)


def issued_and_newest(context: AppContext, caller: Caller, job: Job) -> tuple[Issued | None, int]:
    """The revision that the caller's plan or refit was issued as, and its project's last; 0 while nothing is issued."""
    with context.storage.reading() as connection:
        return find_issued(connection, caller, job.id), newest_revision(connection, job.project_id)


def issued_orders(context: AppContext, caller: Caller, project_id: str) -> list[Issued]:
    """The project's issued orders, first to last. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return repository.issued_orders_of(connection, caller.company_id, project_id)


def issued_order(context: AppContext, caller: Caller, project_id: str, revision: int) -> Issued:
    """A revision of the project's order, with the one that superseded it. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        issued = repository.issued_order(connection, caller.company_id, project_id, revision)
        newest = newest_revision(connection, project_id)
    if issued is None:
        raise Problem(404, "not-found", f"Project {project_id} has no issued order {revision}.")
    return with_successor(issued, newest)
