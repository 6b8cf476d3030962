"""The record: what happened on the job of a project; its rows stay as they were written."""

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.append_only import forbid_changes

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the table of events, to which rows are only ever added."""
    op.create_table(
        "record_events",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("event_id", sa.String(length=60), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("received_at", sa.String(length=27), nullable=False),
        sa.Column("received_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_record_events_company_id")),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_record_events_project_id")),
        sa.PrimaryKeyConstraint("project_id", "number", name=op.f("pk_record_events")),
        sa.UniqueConstraint("project_id", "event_id", name=op.f("uq_record_events_project_id_event_id")),
    )
    forbid_changes("record_events")
