"""Keeping, finding and replacing a company's projects."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.changes.repository import changes_of_project, log_change, newest_changes_of_project
from api.context import AppContext
from api.http.paging import refusing_unknown_places
from api.http.preconditions import names_etag
from api.http.problem_details import Problem
from api.idempotency.service import claim, made_before
from api.limited_process import run_limited
from api.projects import repository
from api.projects.editing import changes_between, survey_workbook_of
from api.projects.reading import ReadProject, empty_workbook
from api.projects.uploads import limited
from optimiser.tables.text import counted

if TYPE_CHECKING:
    from optimiser.writing.office.survey_changes import SurveyChange

Project = sa.Row[Any]


@dataclass(frozen=True)
class StoredProject:
    """A project's row and its newest version as UTF-8 JSON."""

    row: Project
    document: bytes


def find_project(connection: sa.Connection, caller: Caller, project_id: str) -> Project:
    """The caller's project. Raises Problem 404."""
    row = repository.project_with_id(connection, caller.company_id, project_id)
    if row is None:
        raise Problem(404, "not-found", f"There is no project {project_id[:40]}.")
    return row


def get_project(context: AppContext, caller: Caller, project_id: str) -> Project:
    """The caller's project without its tables. Raises Problem 404."""
    with context.storage.reading() as connection:
        return find_project(connection, caller, project_id)


def stored_project(
    context: AppContext, caller: Caller, project_id: str, unless_version_in: str = ""
) -> tuple[Project, StoredProject | None]:
    """The caller's project, and with its tables unless the caller knows them: `unless_version_in` is an If-None-Match
    (RFC 9110, section 13.1.2). Raises Problem 404."""
    with context.storage.reading() as connection:
        row = find_project(connection, caller, project_id)
        if names_etag(unless_version_in, f'"{row.version}"'):
            return row, None
        return row, _stored(connection, row)


def projects_page(
    context: AppContext, caller: Caller, limit: int, after: str | None = None, since: str | None = None
) -> list[Project]:
    """A page of the caller's projects, newest first; only those that changed from a moment on, where it is given.

    Raises Problem 422 when `after` is none of them.
    """
    with context.storage.reading() as connection, refusing_unknown_places():
        return repository.projects_of(connection, caller.company_id, limit, after, since)


def lock_project(connection: sa.Connection, project_id: str) -> None:
    """Locks a project until the transaction ends, so that two who number what belongs to it get two numbers."""
    repository.lock_project(connection, project_id)


def document_of_version(connection: sa.Connection, project_id: str, version: int) -> bytes:
    """A version of a project as UTF-8 JSON."""
    return repository.document_of(connection, project_id, version)


def project_made_before(
    context: AppContext, caller: Caller, idempotency_key: str | None, request_hash: str
) -> StoredProject | None:
    """The project that an equal request made before. Raises Problem 422 when the key belongs to another request."""
    with context.storage.reading() as connection:
        made = made_before(connection, caller.company_id, idempotency_key, request_hash)
        return None if made is None else _stored(connection, find_project(connection, caller, made))


def create_project(
    context: AppContext, caller: Caller, read: ReadProject, idempotency_key: str | None, request_hash: str
) -> StoredProject:
    """Keeps a new project, or finds the one that an equal request made meanwhile."""
    project_id = uuid.uuid4().hex
    with context.storage.writing() as connection:
        made = claim(connection, caller.company_id, idempotency_key, request_hash, project_id)
        if made is None:
            add_project(connection, caller, project_id, read)
        return _stored(connection, find_project(connection, caller, made or project_id))


def add_project(connection: sa.Connection, caller: Caller, project_id: str, read: ReadProject) -> None:
    """Keeps a new project as its version 1, in the caller's transaction."""
    repository.add_project(connection, caller.company_id, project_id, read, caller.who)
    log_change(connection, caller.company_id, project_id, f"project {project_id}", "created", caller.who)


def replaceable_version(
    context: AppContext, caller: Caller, project_id: str, replaces: frozenset[int] | None
) -> int:
    """The project's newest version. Raises Problem 404, or 412 when it is none that is to be replaced (None: any)."""
    version: int = get_project(context, caller, project_id).version
    if replaces is not None and version not in replaces:
        raise changed(project_id)
    return version


def replace_project(
    context: AppContext, caller: Caller, project_id: str, version: int, read: ReadProject
) -> StoredProject:
    """Keeps the project's next version. Raises Problem 412 when `version` is no longer its newest."""
    with context.storage.writing() as connection:
        add_version(connection, caller, project_id, version, read)
        return _stored(connection, find_project(connection, caller, project_id))


def add_version(
    connection: sa.Connection,
    caller: Caller,
    project_id: str,
    version: int,
    read: ReadProject,
    changed_tables: Mapping[str, str] | None = None,
) -> int:
    """Keeps the project's next version in the caller's transaction: its number. Of each of `changed_tables` the log
    says what changed.

    Raises Problem 412 when `version` is no longer its newest.
    """
    if not repository.replace_project(connection, caller.company_id, project_id, version, read, caller.who):
        raise changed(project_id)
    log_change(
        connection,
        caller.company_id,
        project_id,
        f"project {project_id}",
        f"version {version + 1} kept",
        caller.who,
    )
    for table, what in (changed_tables or {}).items():
        subject = f"version {version + 1}, {table}"
        log_change(connection, caller.company_id, project_id, subject, what[:40], caller.who)
    return version + 1


def keep_version(
    context: AppContext,
    caller: Caller,
    project_id: str,
    version: int,
    read: ReadProject,
    changed_tables: Mapping[str, str],
) -> int:
    """Keeps the project's next version and what it changes: its number. Raises Problem 412 when `version` is no longer
    its newest."""
    with context.storage.writing() as connection:
        return add_version(connection, caller, project_id, version, read, changed_tables)


@dataclass(frozen=True)
class SurveyVersion:
    """A kept version of a project: its number, when it was kept and by whom."""

    number: int
    kept_at: str
    kept_by: str


def versions_of(
    context: AppContext, caller: Caller, project_id: str, limit: int, before: int | None = None
) -> list[SurveyVersion]:
    """The newest versions of the caller's project before a number (None: of all), newest first. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        rows = repository.versions_of(connection, project_id, limit, before)
    return [SurveyVersion(row.version, row.kept_at, row.kept_by) for row in rows]


def kept_version(context: AppContext, caller: Caller, project_id: str, version: int) -> SurveyVersion:
    """A version of the caller's project without its tables. Raises Problem 404."""
    newest: int = get_project(context, caller, project_id).version
    found = versions_of(context, caller, project_id, 1, version + 1)
    if not found or found[0].number != version:
        raise no_such_version(newest, version)
    return found[0]


def version_workbook(context: AppContext, caller: Caller, project_id: str, version: int) -> bytes:
    """A version of the caller's project as a workbook that it can be read from again. Raises Problem 404, or 413 beyond
    the limits of an upload."""
    document = version_document(context, caller, project_id, version).decode()
    return limited(context, survey_workbook_of, document)


def version_changes(
    context: AppContext, caller: Caller, project_id: str, version: int, against: int
) -> tuple[SurveyChange, ...]:
    """What a version of the caller's project changes of another. Raises Problem 404, or 413 beyond the limits of an
    upload."""
    before, after = (
        version_document(context, caller, project_id, one).decode() for one in (against, version)
    )
    return limited(context, changes_between, before, after)


def version_document(context: AppContext, caller: Caller, project_id: str, version: int) -> bytes:
    """A version of the caller's project as UTF-8 JSON. Raises Problem 404."""
    with context.storage.reading() as connection:
        row = find_project(connection, caller, project_id)
        if not 1 <= version <= row.version:
            raise no_such_version(row.version, version)
        return repository.document_of(connection, project_id, version)


def no_such_version(newest: int, version: int) -> Problem:
    """The answer to a version that a project does not have."""
    return Problem(
        404, "not-found", f"The building has {counted(newest, 'survey')}; none is number {version}."
    )


def changes_of(
    context: AppContext, caller: Caller, project_id: str, limit: int, after: int = 0
) -> list[sa.Row[Any]]:
    """The project's log, oldest first, after a line's number. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return changes_of_project(connection, caller.company_id, project_id, limit, after)


def newest_changes_of(context: AppContext, caller: Caller, project_id: str, limit: int) -> list[sa.Row[Any]]:
    """The last lines of the project's log, newest first. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return newest_changes_of_project(connection, caller.company_id, project_id, limit)


def changed(project_id: str) -> Problem:
    """The answer to a replacement of what is no longer the newest version."""
    return Problem(
        412, "precondition-failed", f"Project {project_id} has changed since: read it again, then replace it."
    )


def survey_template(context: AppContext) -> bytes:
    """The empty workbook that a survey is written into."""
    content: bytes = run_limited(empty_workbook, seconds=30, megabytes=context.settings.parse_megabytes)
    return content


def _stored(connection: sa.Connection, row: Project) -> StoredProject:
    return StoredProject(row, repository.document_of(connection, row.id, row.version))
