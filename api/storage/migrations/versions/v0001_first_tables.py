"""The first form of the tables, and the triggers that keep issued orders and the log as they were written."""

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.append_only import forbid_changes

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

IMMUTABLE = ("project_versions", "issued_orders", "changes")


def upgrade() -> None:
    """Makes every table, then forbids altering or deleting rows of the immutable ones."""
    op.create_table(
        "companies",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_companies")),
        sa.UniqueConstraint("name", name=op.f("uq_companies_name")),
    )
    op.create_table(
        "workers",
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("started_at", sa.String(length=27), nullable=False),
        sa.Column("heartbeat", sa.Float(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_workers")),
    )
    op.create_table(
        "api_keys",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("revoked_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_api_keys_company_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_keys")),
    )
    op.create_index(op.f("ix_api_keys_company_id"), "api_keys", ["company_id"], unique=False)
    op.create_table(
        "changes",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("project_id", sa.String(length=32), nullable=True),
        sa.Column("subject", sa.String(length=80), nullable=False),
        sa.Column("action", sa.String(length=40), nullable=False),
        sa.Column("who", sa.String(length=200), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_changes_company_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_changes")),
    )
    op.create_index(
        op.f("ix_changes_company_id_project_id_number"),
        "changes",
        ["company_id", "project_id", "number"],
        unique=False,
    )
    op.create_table(
        "idempotency_keys",
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("request_hash", sa.String(length=64), nullable=False),
        sa.Column("made", sa.String(length=32), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["company_id"], ["companies.id"], name=op.f("fk_idempotency_keys_company_id")
        ),
        sa.PrimaryKeyConstraint("company_id", "key", name=op.f("pk_idempotency_keys")),
    )
    op.create_table(
        "projects",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=300), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("created_by", sa.String(length=200), nullable=False),
        sa.Column("updated_at", sa.String(length=27), nullable=False),
        sa.Column("updated_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_projects_company_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_projects")),
    )
    op.create_index(
        op.f("ix_projects_company_id_created_at_id"),
        "projects",
        ["company_id", "created_at", "id"],
        unique=False,
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("project_version", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("parameters", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=10), nullable=False),
        sa.Column("step", sa.String(length=40), nullable=True),
        sa.Column("fraction", sa.Float(), nullable=True),
        sa.Column("worker", sa.String(length=100), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.Column("summary", sa.Text(), nullable=True),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("created_by", sa.String(length=200), nullable=False),
        sa.Column("started_at", sa.String(length=27), nullable=True),
        sa.Column("finished_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_jobs_company_id")),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_jobs_project_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_index(
        op.f("ix_jobs_company_id_project_id_kind_created_at"),
        "jobs",
        ["company_id", "project_id", "kind", "created_at"],
        unique=False,
    )
    op.create_index(op.f("ix_jobs_status"), "jobs", ["status"], unique=False)
    op.create_table(
        "project_versions",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("kept_at", sa.String(length=27), nullable=False),
        sa.Column("kept_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_project_versions_project_id")),
        sa.PrimaryKeyConstraint("project_id", "version", name=op.f("pk_project_versions")),
    )
    op.create_table(
        "issued_orders",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("plan_id", sa.String(length=32), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("issued_at", sa.String(length=27), nullable=False),
        sa.Column("issued_by", sa.String(length=200), nullable=False),
        sa.Column("previous_hash", sa.String(length=64), nullable=False),
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_issued_orders_company_id")),
        sa.ForeignKeyConstraint(["plan_id"], ["jobs.id"], name=op.f("fk_issued_orders_plan_id")),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_issued_orders_project_id")),
        sa.PrimaryKeyConstraint("project_id", "revision", name=op.f("pk_issued_orders")),
        sa.UniqueConstraint("plan_id", name=op.f("uq_issued_orders_plan_id")),
    )
    op.create_table(
        "job_events",
        sa.Column("job_id", sa.String(length=32), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("data", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_events_job_id")),
        sa.PrimaryKeyConstraint("job_id", "number", name=op.f("pk_job_events")),
    )
    op.create_table(
        "job_results",
        sa.Column("job_id", sa.String(length=32), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_results_job_id")),
        sa.PrimaryKeyConstraint("job_id", name=op.f("pk_job_results")),
    )
    op.create_table(
        "job_steps",
        sa.Column("job_id", sa.String(length=32), nullable=False),
        sa.Column("step", sa.String(length=40), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_steps_job_id")),
        sa.PrimaryKeyConstraint("job_id", "step", name=op.f("pk_job_steps")),
    )
    for table in IMMUTABLE:
        forbid_changes(table)
