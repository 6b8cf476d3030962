"""Calendar feeds of projects, by the hashes of their secret addresses."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the table."""
    op.create_table(
        "calendar_feeds",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.String(length=27), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.Column("last_used_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_calendar_feeds_project_id")),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_calendar_feeds_company_id")),
        sa.PrimaryKeyConstraint("project_id", name=op.f("pk_calendar_feeds")),
        sa.UniqueConstraint("secret_hash", name=op.f("uq_calendar_feeds_secret_hash")),
    )
