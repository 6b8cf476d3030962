"""Who issued an order stands beside what is hashed, behind a salt, so that the name can be erased."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Adds the salt. Orders that were issued before have none: their hashes cover the name itself."""
    op.add_column("issued_orders", sa.Column("issuer_salt", sa.String(length=64), nullable=True))
