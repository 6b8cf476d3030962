"""Webhooks of companies, and what each is told."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the tables."""
    op.create_table(
        "webhooks",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("url", sa.String(length=500), nullable=False),
        sa.Column("events", sa.Text(), nullable=False),
        sa.Column("days_before", sa.Integer(), nullable=False),
        sa.Column("secret", sa.String(length=80), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("created_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_webhooks_company_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhooks")),
    )
    op.create_index(op.f("ix_webhooks_company_id"), "webhooks", ["company_id"], unique=False)
    op.create_table(
        "webhook_deliveries",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("webhook_id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("event", sa.String(length=20), nullable=False),
        sa.Column("subject", sa.String(length=60), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=10), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("last_answer", sa.String(length=200), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("next_attempt_at", sa.String(length=27), nullable=True),
        sa.Column("delivered_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(
            ["webhook_id"], ["webhooks.id"], name=op.f("fk_webhook_deliveries_webhook_id")
        ),
        sa.ForeignKeyConstraint(
            ["company_id"], ["companies.id"], name=op.f("fk_webhook_deliveries_company_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhook_deliveries")),
        sa.UniqueConstraint(
            "webhook_id", "event", "subject", name=op.f("uq_webhook_deliveries_webhook_id_event_subject")
        ),
    )
    op.create_index(
        op.f("ix_webhook_deliveries_status_next_attempt_at"),
        "webhook_deliveries",
        ["status", "next_attempt_at"],
        unique=False,
    )
    op.create_index(
        op.f("ix_webhook_deliveries_project_id"), "webhook_deliveries", ["project_id"], unique=False
    )
