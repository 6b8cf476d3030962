"""Projects and their versions in the database."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from api import clock
from api.projects.reading import ReadProject
from api.storage.pages import rows_of_page
from api.storage.tables import compressed, project_versions, projects, restored


def add_project(
    connection: sa.Connection, company_id: str, project_id: str, project: ReadProject, who: str
) -> None:
    """Keeps a new project as its version 1."""
    moment = clock.now()
    connection.execute(
        sa.insert(projects).values(
            id=project_id,
            company_id=company_id,
            name=project.name[:300],
            version=1,
            created_at=moment,
            created_by=who,
            updated_at=moment,
            updated_by=who,
        )
    )
    _keep_version(connection, project_id, 1, project, moment, who)


def replace_project(
    connection: sa.Connection, company_id: str, project_id: str, version: int, project: ReadProject, who: str
) -> bool:
    """Keeps the project's next version; False when `version` is no longer its newest."""
    moment = clock.now()
    done = connection.execute(
        sa.update(projects)
        .where(
            projects.c.id == project_id, projects.c.company_id == company_id, projects.c.version == version
        )
        .values(name=project.name[:300], version=version + 1, updated_at=moment, updated_by=who)
    )
    if done.rowcount != 1:
        return False
    _keep_version(connection, project_id, version + 1, project, moment, who)
    return True


def project_with_id(connection: sa.Connection, company_id: str, project_id: str) -> sa.Row[Any] | None:
    """A company's project, without its document."""
    return connection.execute(
        sa.select(projects).where(projects.c.id == project_id, projects.c.company_id == company_id)
    ).first()


def lock_project(connection: sa.Connection, project_id: str) -> None:
    """Locks a project's row until the transaction ends: of two who count what belongs to it, one waits."""
    connection.execute(
        sa.update(projects).where(projects.c.id == project_id).values(version=projects.c.version)
    )


def document_of(connection: sa.Connection, project_id: str, version: int) -> bytes:
    """A version's project as UTF-8 JSON."""
    document: bytes = connection.execute(
        sa.select(project_versions.c.document).where(
            project_versions.c.project_id == project_id, project_versions.c.version == version
        )
    ).scalar_one()
    return restored(document)


def versions_of(
    connection: sa.Connection, project_id: str, limit: int, before: int | None = None
) -> list[sa.Row[Any]]:
    """A project's newest versions before a number (None: of all), without their documents, newest first."""
    columns = (project_versions.c.version, project_versions.c.kept_at, project_versions.c.kept_by)
    return list(
        connection.execute(
            sa.select(*columns)
            .where(
                project_versions.c.project_id == project_id,
                sa.true() if before is None else project_versions.c.version < before,
            )
            .order_by(project_versions.c.version.desc())
            .limit(limit)
        )
    )


def projects_of(
    connection: sa.Connection, company_id: str, limit: int, after: str | None, since: str | None = None
) -> list[sa.Row[Any]]:
    """A company's projects, newest first; `after` is the last project's id of the page before. Only those that changed
    from the moment `since` on, where it is given."""
    mine = projects.c.company_id == company_id
    if since is not None:
        mine = sa.and_(mine, projects.c.updated_at >= since)
    return rows_of_page(connection, projects, mine, limit, after)


def _keep_version(
    connection: sa.Connection, project_id: str, version: int, project: ReadProject, moment: str, who: str
) -> None:
    connection.execute(
        sa.insert(project_versions).values(
            project_id=project_id,
            version=version,
            document=compressed(project.text),
            kept_at=moment,
            kept_by=who,
        )
    )
