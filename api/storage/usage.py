"""How much a company keeps in the database."""

from __future__ import annotations

import sqlalchemy as sa

from api.storage.tables import (
    issued_documents,
    issued_orders,
    job_results,
    jobs,
    photographs,
    project_versions,
    projects,
)


def kept_bytes(connection: sa.Connection, company_id: str) -> int:
    """Bytes of a company's surveys, what its jobs made, its issued documents and its photographs, as they are kept."""
    sizes = (
        sa.select(sa.func.sum(sa.func.length(project_versions.c.document)))
        .join(projects, projects.c.id == project_versions.c.project_id)
        .where(projects.c.company_id == company_id),
        sa.select(sa.func.sum(sa.func.length(job_results.c.document)))
        .join(jobs, jobs.c.id == job_results.c.job_id)
        .where(jobs.c.company_id == company_id),
        sa.select(sa.func.sum(sa.func.length(issued_documents.c.content)))
        .join(
            issued_orders,
            sa.and_(
                issued_orders.c.project_id == issued_documents.c.project_id,
                issued_orders.c.revision == issued_documents.c.revision,
            ),
        )
        .where(issued_orders.c.company_id == company_id),
        sa.select(sa.func.sum(sa.func.length(photographs.c.content))).where(
            photographs.c.company_id == company_id
        ),
    )
    return sum(int(connection.scalar(size) or 0) for size in sizes)
