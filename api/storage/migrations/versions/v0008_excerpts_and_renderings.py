"""What pages need of a plan, and documents as they were rendered: both made of what is kept, and made again at need."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the tables."""
    op.create_table(
        "plan_excerpts",
        sa.Column("job_id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("program", sa.String(length=64), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_plan_excerpts_job_id")),
        sa.PrimaryKeyConstraint("job_id", "name", name=op.f("pk_plan_excerpts")),
    )
    op.create_table(
        "renderings",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("job_id", sa.String(length=32), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("coding", sa.String(length=10), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(length=27), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_renderings_job_id")),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_renderings")),
    )
    op.create_index(op.f("ix_renderings_job_id"), "renderings", ["job_id"], unique=False)
    op.create_index(op.f("ix_renderings_made_at"), "renderings", ["made_at"], unique=False)
