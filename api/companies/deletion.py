"""Deleting a project by its owner: everything of it, as long as no order of it was issued."""

from __future__ import annotations

import sqlalchemy as sa

from api.accounts.service import Caller
from api.changes.repository import log_change
from api.companies.retention import delete_project
from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.model import OPEN
from api.projects.service import changed, find_project, lock_project
from api.storage.guards import lifted
from api.storage.tables import issued_orders, jobs
from optimiser.tables.text import counted


def delete_own_project(
    context: AppContext, caller: Caller, project_id: str, versions: frozenset[int] | None
) -> None:
    """Deletes the caller's project with its surveys, plans, record and photographs; the company's log keeps that it was
    deleted, and by whom.

    Raises Problem 404; 412 where its newest version is none of `versions` (None: any); 409 where orders of it were
    issued, which are kept, or jobs of it have not ended.
    """
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        row = find_project(connection, caller, project_id)
        if versions is not None and row.version not in versions:
            raise changed(project_id)
        issued = _count(connection, issued_orders, issued_orders.c.project_id == project_id)
        if issued:
            raise Problem(
                409,
                "orders-are-kept",
                f"{counted(issued, 'order')} of this project {'was' if issued == 1 else 'were'} issued, which must be"
                " kept, and so must the project.",
                orders=issued,
            )
        unfinished = _count(connection, jobs, jobs.c.project_id == project_id, jobs.c.status.in_(OPEN))
        if unfinished:
            raise Problem(
                409,
                "work-in-hand",
                f"{counted(unfinished, 'job')} of this project {'is' if unfinished == 1 else 'are'} queued or running:"
                " wait until all have ended, or cancel them.",
                jobs=unfinished,
            )
        with lifted(connection):
            delete_project(connection, project_id)
        log_change(connection, caller.company_id, None, f"project {project_id}", "deleted", caller.who)


def _count(connection: sa.Connection, table: sa.Table, *wanted: sa.ColumnElement[bool]) -> int:
    return connection.scalar(sa.select(sa.func.count()).select_from(table).where(*wanted)) or 0
