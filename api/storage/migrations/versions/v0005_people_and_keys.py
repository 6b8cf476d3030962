"""People, sessions of browsers, expiry and rotation of keys, and the log of who did what."""

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.append_only import forbid_changes

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_STANDING = sa.text("ended_at IS NULL")


def upgrade() -> None:
    """Makes the tables; keys that there are stay good, without an expiry."""
    op.create_table(
        "accounts",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("email", sa.String(length=254), nullable=True),
        sa.Column("issuer", sa.String(length=300), nullable=True),
        sa.Column("subject", sa.String(length=255), nullable=True),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("created_at", sa.String(length=27), nullable=False),
        sa.Column("ended_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_accounts_company_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_accounts")),
    )
    op.create_index(op.f("ix_accounts_company_id"), "accounts", ["company_id"], unique=False)
    for columns in (["email"], ["issuer", "subject"]):
        op.create_index(
            f"uq_accounts_{'_'.join(columns)}",
            "accounts",
            columns,
            unique=True,
            sqlite_where=_STANDING,
            postgresql_where=_STANDING,
        )
    _widen_keys()
    op.create_table(
        "sessions",
        sa.Column("id", sa.String(length=32), nullable=False),
        sa.Column("secret_hash", sa.String(length=64), nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=False),
        sa.Column("account_id", sa.String(length=32), nullable=True),
        sa.Column("key_id", sa.String(length=32), nullable=True),
        sa.Column("begun_at", sa.String(length=27), nullable=False),
        sa.Column("begun_from", sa.String(length=64), nullable=False),
        sa.Column("browser", sa.String(length=200), nullable=False),
        sa.Column("last_used_at", sa.String(length=27), nullable=False),
        sa.Column("expires_at", sa.String(length=27), nullable=False),
        sa.Column("ended_at", sa.String(length=27), nullable=True),
        sa.ForeignKeyConstraint(["account_id"], ["accounts.id"], name=op.f("fk_sessions_account_id")),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_sessions_company_id")),
        sa.ForeignKeyConstraint(["key_id"], ["api_keys.id"], name=op.f("fk_sessions_key_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
    )
    op.create_index(op.f("ix_sessions_company_id"), "sessions", ["company_id"], unique=False)
    op.create_table(
        "audit_log",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("company_id", sa.String(length=32), nullable=True),
        sa.Column("at", sa.String(length=27), nullable=False),
        sa.Column("who", sa.String(length=200), nullable=False),
        sa.Column("account_id", sa.String(length=32), nullable=True),
        sa.Column("key_id", sa.String(length=32), nullable=True),
        sa.Column("session_id", sa.String(length=32), nullable=True),
        sa.Column("operation", sa.String(length=120), nullable=False),
        sa.Column("subject", sa.String(length=300), nullable=False),
        sa.Column("address", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("result", sa.String(length=40), nullable=False),
        sa.Column("request_id", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["company_id"], ["companies.id"], name=op.f("fk_audit_log_company_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_audit_log")),
    )
    op.create_index(
        op.f("ix_audit_log_company_id_number"), "audit_log", ["company_id", "number"], unique=False
    )
    forbid_changes("audit_log")


def _widen_keys() -> None:
    # in plain SQL: alembic makes a column's foreign key apart from it, which SQLite cannot do
    op.execute("ALTER TABLE api_keys ADD COLUMN account_id VARCHAR(32) REFERENCES accounts (id)")
    for name, length in (
        ("expires_at", 27),
        ("previous_hash", 64),
        ("previous_until", 27),
        ("last_used_at", 27),
        ("last_used_from", 64),
    ):
        op.add_column("api_keys", sa.Column(name, sa.String(length=length), nullable=True))
