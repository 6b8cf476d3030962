"""The order of record: the documents of issued orders byte for byte, what anchors them, and when they were verified."""

import hashlib

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.append_only import forbid_changes
from api.storage.tables import restored

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Makes the tables. Of orders that were issued before, the plan as it stands now is kept: their other documents are
    made from that one alone from now on."""
    op.create_table(
        "issued_documents",
        sa.Column("project_id", sa.String(length=32), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("media_type", sa.String(length=120), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("content_hash", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["project_id", "revision"],
            ["issued_orders.project_id", "issued_orders.revision"],
            name=op.f("fk_issued_documents_project_id_revision"),
        ),
        sa.PrimaryKeyConstraint("project_id", "revision", "name", name=op.f("pk_issued_documents")),
    )
    op.create_table(
        "anchors",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("anchor_id", sa.String(length=32), nullable=False),
        sa.Column("begun_at", sa.String(length=27), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_anchors")),
    )
    op.create_table(
        "order_checks",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.Column("revisions", sa.Integer(), nullable=False),
        sa.Column("documents", sa.Integer(), nullable=False),
        sa.Column("findings", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_order_checks")),
    )
    _keep_plans_of_issued_orders()
    forbid_changes("issued_documents")
    forbid_changes("anchors")


def _keep_plans_of_issued_orders() -> None:
    connection = op.get_bind()
    issued = sa.table("issued_orders", sa.column("project_id"), sa.column("revision"), sa.column("plan_id"))
    results = sa.table("job_results", sa.column("job_id"), sa.column("document"))
    jobs = sa.table("jobs", sa.column("id"), sa.column("kind"))
    kept = sa.table(
        "issued_documents",
        *map(sa.column, ("project_id", "revision", "name", "media_type", "content", "content_hash")),
    )
    found = connection.execute(
        sa.select(issued.c.project_id, issued.c.revision, issued.c.plan_id, jobs.c.kind).join(
            jobs, jobs.c.id == issued.c.plan_id
        )
    ).all()
    for row in found:
        document = connection.scalar(sa.select(results.c.document).where(results.c.job_id == row.plan_id))
        if document is not None:
            connection.execute(
                sa.insert(kept).values(
                    project_id=row.project_id,
                    revision=row.revision,
                    name=f"{row.kind}.json",
                    media_type="application/json",
                    content=bytes(document),
                    content_hash=hashlib.sha256(restored(bytes(document))).hexdigest(),
                )
            )
