"""What the database holds of a company, and where people are named in it.

Rows are found by their columns (the company's, else the project's, else the job's), so a new table is found by itself;
tests demand that each is, and that every column which names people is told here.
"""

from __future__ import annotations

import sqlalchemy as sa

from api.storage.tables import MADE_AGAIN, companies, issued_orders, job_results, jobs, metadata, projects

# Of no company: who is alive here, the anchors of the whole database, and how verifying it went.
OF_NO_COMPANY = ("workers", "anchors", "order_checks")

# Columns that say who did something, or hold somebody's name.
PEOPLE = {
    "accounts": ("name", "email", "issuer", "subject"),
    "api_keys": ("name",),
    "audit_log": ("who", "subject"),
    "calendar_feeds": ("made_by",),
    "changes": ("who",),
    "issued_orders": ("issued_by",),
    "jobs": ("created_by",),
    "photographs": ("received_by",),
    "project_versions": ("kept_by",),
    "projects": ("created_by", "updated_by"),
    "record_events": ("received_by",),
    "sent_readings": ("received_by",),
    "webhooks": ("created_by",),
}

# Columns that hold a document as JSON text, compressed where they are binary; people are named in its values.
DOCUMENTS = {
    "job_results": ("document",),
    "job_steps": ("document",),
    "photographs": ("about",),
    "project_versions": ("document",),
    "record_events": ("document",),
    "sent_readings": ("document",),
}

# Secrets, or what a secret could be guessed from: of use to nobody but the service.
SECRETS = {
    "api_keys": ("secret_hash", "previous_hash"),
    "calendar_feeds": ("secret_hash",),
    "sessions": ("secret_hash",),
    "issued_orders": ("issuer_salt",),
    "webhooks": ("secret",),
}


class UnknownCompany(Exception):  # noqa: N818 (the operator's matter)
    """There is no company of this name; the message names those that there are."""


def find_company(connection: sa.Connection, name: str) -> str:
    """The id of a company. Raises UnknownCompany."""
    found: str | None = connection.scalar(sa.select(companies.c.id).where(companies.c.name == name))
    if found is None:
        known = connection.scalars(sa.select(companies.c.name).order_by(companies.c.name)).all()
        raise UnknownCompany(f"There is no company {name!r}; there is {', '.join(known) or 'none'}.")
    return found


def tables_of_companies() -> list[sa.Table]:
    """The tables that hold rows of companies, each after those that it refers to."""
    return [table for table in metadata.sorted_tables if table.name not in OF_NO_COMPANY]


def tables_to_hand_over() -> list[sa.Table]:
    """The tables of `tables_of_companies` whose rows are not made of what the others hold."""
    return [table for table in tables_of_companies() if table.name not in MADE_AGAIN]


def rows_of(table: sa.Table, company_id: str) -> sa.ColumnElement[bool]:
    """Which rows of a table are a company's. Raises LookupError for a table that says nothing of whose they are."""
    columns = table.c
    if table is companies:
        return columns.id == company_id
    if "company_id" in columns:
        return columns.company_id == company_id
    for column, owner in (("project_id", projects), ("job_id", jobs)):
        if column in columns:
            mine = sa.select(owner.c.id).where(owner.c.company_id == company_id)
            return columns[column].in_(mine)
    raise LookupError(f"{table.name} does not say whose its rows are")


def issued_of(company_id: str) -> sa.Select[tuple[object, ...]]:
    """A company's issued orders: project, revision, the plan's id and the document."""
    return sa.select(
        issued_orders.c.project_id,
        issued_orders.c.revision,
        issued_orders.c.plan_id,
        issued_orders.c.document,
    ).where(issued_orders.c.company_id == company_id)


def is_result_of_an_issued_plan() -> sa.ColumnElement[bool]:
    """Of `job_results`: whether an issued order's hash covers it."""
    return job_results.c.job_id.in_(sa.select(issued_orders.c.plan_id))
