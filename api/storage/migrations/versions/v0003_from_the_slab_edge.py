"""What is sent from the slab edge beside events: photographs, and gaps as they were measured."""

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.append_only import forbid_changes

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the two tables, to which rows are only ever added."""
    op.create_table(
        "photographs",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("photograph_id", sa.String(length=60), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("media_type", sa.String(length=20), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("content_hash", sa.String(length=64), nullable=False),
        sa.Column("received_at", sa.String(length=27), nullable=False),
        sa.Column("received_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_photographs_company_id")),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_photographs_project_id")),
        sa.PrimaryKeyConstraint("project_id", "photograph_id", name=op.f("pk_photographs")),
        sa.UniqueConstraint("project_id", "number", name=op.f("uq_photographs_project_id_number")),
    )
    op.create_table(
        "sent_readings",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("sent_id", sa.String(length=60), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.String(length=27), nullable=False),
        sa.Column("received_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_sent_readings_company_id")),
        sa.ForeignKeyConstraint(["project_id"], ["projects.id"], name=op.f("fk_sent_readings_project_id")),
        sa.PrimaryKeyConstraint("project_id", "sent_id", name=op.f("pk_sent_readings")),
        sa.UniqueConstraint("project_id", "number", name=op.f("uq_sent_readings_project_id_number")),
    )
    forbid_changes("photographs")
    forbid_changes("sent_readings")
