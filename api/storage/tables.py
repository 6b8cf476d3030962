"""The tables. Times are text as `api.clock` writes them; documents are compressed JSON (`compressed`).

Rows of the tables in `IMMUTABLE` are never altered or deleted: the migrations put triggers on them that refuse it.

One module although long: it is a list, the whole database in one place, as the migrations are compared with it.
"""

from __future__ import annotations

import zlib

import sqlalchemy as sa

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

IMMUTABLE = (
    "project_versions",
    "issued_orders",
    "issued_documents",
    "anchors",
    "changes",
    "record_events",
    "photographs",
    "sent_readings",
    "audit_log",
)

# Tables whose rows are made again at need: of no company's data, and in no backup.
MADE_AGAIN = ("plan_excerpts", "renderings")

companies = sa.Table(
    "companies",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("name", sa.String(200), nullable=False, unique=True),
    sa.Column("created_at", sa.String(27), nullable=False),
)

# People. `issuer` and `subject` are what an identity server knows somebody by.
accounts = sa.Table(
    "accounts",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False, index=True),
    sa.Column("name", sa.String(80), nullable=False),
    sa.Column("email", sa.String(254)),
    sa.Column("issuer", sa.String(300)),
    sa.Column("subject", sa.String(255)),
    sa.Column("role", sa.String(10), nullable=False),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("ended_at", sa.String(27)),
)
_STANDING = accounts.c.ended_at.is_(None)
for _columns in (("email",), ("issuer", "subject")):  # of those that have not ended
    sa.Index(
        f"uq_accounts_{'_'.join(_columns)}",
        *(accounts.c[name] for name in _columns),
        unique=True,
        sqlite_where=_STANDING,
        postgresql_where=_STANDING,
    )

# `previous_hash` is the secret before the last rotation, which is good until `previous_until`.
api_keys = sa.Table(
    "api_keys",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False, index=True),
    sa.Column("name", sa.String(200), nullable=False),
    sa.Column("role", sa.String(10), nullable=False),
    sa.Column("secret_hash", sa.String(64), nullable=False),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("revoked_at", sa.String(27)),
    sa.Column("account_id", sa.ForeignKey("accounts.id")),
    sa.Column("expires_at", sa.String(27)),
    sa.Column("previous_hash", sa.String(64)),
    sa.Column("previous_until", sa.String(27)),
    sa.Column("last_used_at", sa.String(27)),
    sa.Column("last_used_from", sa.String(64)),
)

# Browsers that are signed in, by a key or as a person whom an identity server knows.
sessions = sa.Table(
    "sessions",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("secret_hash", sa.String(64), nullable=False),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False, index=True),
    sa.Column("account_id", sa.ForeignKey("accounts.id")),
    sa.Column("key_id", sa.ForeignKey("api_keys.id")),
    sa.Column("begun_at", sa.String(27), nullable=False),
    sa.Column("begun_from", sa.String(64), nullable=False),
    sa.Column("browser", sa.String(200), nullable=False),
    sa.Column("last_used_at", sa.String(27), nullable=False),
    sa.Column("expires_at", sa.String(27), nullable=False),
    sa.Column("ended_at", sa.String(27)),
)

# Who did what from where, and what came of it. `status` is HTTP's, or 0 for what an operator did by a command.
audit_log = sa.Table(
    "audit_log",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("company_id", sa.ForeignKey("companies.id")),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("who", sa.String(200), nullable=False),
    sa.Column("account_id", sa.String(32)),
    sa.Column("key_id", sa.String(32)),
    sa.Column("session_id", sa.String(32)),
    sa.Column("operation", sa.String(120), nullable=False),
    sa.Column("subject", sa.String(300), nullable=False),
    sa.Column("address", sa.String(64), nullable=False),
    sa.Column("status", sa.Integer, nullable=False),
    sa.Column("result", sa.String(40), nullable=False),
    sa.Column("request_id", sa.String(64), nullable=False),
    sa.Index(None, "company_id", "number"),
)

projects = sa.Table(
    "projects",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("name", sa.String(300), nullable=False),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("created_by", sa.String(200), nullable=False),
    sa.Column("updated_at", sa.String(27), nullable=False),
    sa.Column("updated_by", sa.String(200), nullable=False),
    sa.Index(None, "company_id", "created_at", "id"),
)

project_versions = sa.Table(
    "project_versions",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("version", sa.Integer, primary_key=True),
    sa.Column("document", sa.LargeBinary, nullable=False),
    sa.Column("kept_at", sa.String(27), nullable=False),
    sa.Column("kept_by", sa.String(200), nullable=False),
)

# A plan, a comparison, a simulation or a refit that is to be made, is being made, or was made.
jobs = sa.Table(
    "jobs",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("project_id", sa.ForeignKey("projects.id"), nullable=False),
    sa.Column("project_version", sa.Integer, nullable=False),
    sa.Column("kind", sa.String(20), nullable=False),
    sa.Column("parameters", sa.Text, nullable=False),
    sa.Column("status", sa.String(10), nullable=False),
    sa.Column("step", sa.String(40)),
    sa.Column("fraction", sa.Float),
    sa.Column("worker", sa.String(100)),
    sa.Column("error", sa.Text),
    sa.Column("summary", sa.Text),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("created_by", sa.String(200), nullable=False),
    sa.Column("started_at", sa.String(27)),
    sa.Column("finished_at", sa.String(27)),
    sa.Index(None, "company_id", "project_id", "kind", "created_at"),
    sa.Index(None, "status"),
)

job_results = sa.Table(
    "job_results",
    metadata,
    sa.Column("job_id", sa.ForeignKey("jobs.id"), primary_key=True),
    sa.Column("document", sa.LargeBinary, nullable=False),
)

# What the steps of an unfinished job have made, so that a job taken over goes on where it stood.
job_steps = sa.Table(
    "job_steps",
    metadata,
    sa.Column("job_id", sa.ForeignKey("jobs.id"), primary_key=True),
    sa.Column("step", sa.String(40), primary_key=True),
    sa.Column("document", sa.LargeBinary, nullable=False),
)

# What pages need of a plan, so that none reads all of it: made of the plan by the `program`.
plan_excerpts = sa.Table(
    "plan_excerpts",
    metadata,
    sa.Column("job_id", sa.ForeignKey("jobs.id"), primary_key=True),
    sa.Column("name", sa.String(80), primary_key=True),
    sa.Column("program", sa.String(64), nullable=False),
    sa.Column("document", sa.LargeBinary, nullable=False),
)

# Documents of jobs as they were rendered, the newest ones; `key` stands for all that they were made of, `coding` is the
# content coding (RFC 9110) in which they are kept.
renderings = sa.Table(
    "renderings",
    metadata,
    sa.Column("key", sa.String(64), primary_key=True),
    sa.Column("job_id", sa.ForeignKey("jobs.id"), nullable=False, index=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("coding", sa.String(10), nullable=False),
    sa.Column("bytes", sa.Integer, nullable=False),
    sa.Column("made_at", sa.String(27), nullable=False, index=True),
)

job_events = sa.Table(
    "job_events",
    metadata,
    sa.Column("job_id", sa.ForeignKey("jobs.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("kind", sa.String(20), nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)

issued_orders = sa.Table(
    "issued_orders",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("revision", sa.Integer, primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("plan_id", sa.ForeignKey("jobs.id"), nullable=False, unique=True),  # or the refit's id
    sa.Column("document", sa.LargeBinary, nullable=False),
    sa.Column("issued_at", sa.String(27), nullable=False),
    sa.Column("issued_by", sa.String(200), nullable=False),
    # NULL: erased with the name, or from before names stood outside the hash
    sa.Column("issuer_salt", sa.String(64)),
    sa.Column("previous_hash", sa.String(64), nullable=False),
    sa.Column("hash", sa.String(64), nullable=False),
)

# The documents of an issued order, byte for byte as they were made when it was issued.
issued_documents = sa.Table(
    "issued_documents",
    metadata,
    sa.Column("project_id", sa.String(32), primary_key=True),
    sa.Column("revision", sa.Integer, primary_key=True),
    sa.Column("name", sa.String(80), primary_key=True),
    sa.Column("media_type", sa.String(120), nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("content_hash", sa.String(64), nullable=False),
    sa.ForeignKeyConstraint(
        ["project_id", "revision"], ["issued_orders.project_id", "issued_orders.revision"]
    ),
)

# The files outside the database that have anchored its issued orders; the last one does now.
anchors = sa.Table(
    "anchors",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("anchor_id", sa.String(32), nullable=False),
    sa.Column("begun_at", sa.String(27), nullable=False),
)

# When every issued order was verified, and what was found.
order_checks = sa.Table(
    "order_checks",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Column("revisions", sa.Integer, nullable=False),
    sa.Column("documents", sa.Integer, nullable=False),
    sa.Column("findings", sa.Text, nullable=False),
)

# What happened on the job of a project, in the order in which it was received; `event_id` is the sender's own.
record_events = sa.Table(
    "record_events",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("event_id", sa.String(60), nullable=False),
    sa.Column("document", sa.Text, nullable=False),
    sa.Column("received_at", sa.String(27), nullable=False),
    sa.Column("received_by", sa.String(200), nullable=False),
    sa.UniqueConstraint("project_id", "event_id"),
)

# Photographs of what was built or measured; `photograph_id` is the sender's own, `about` says of what as JSON.
photographs = sa.Table(
    "photographs",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("photograph_id", sa.String(60), primary_key=True),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("about", sa.Text, nullable=False),
    sa.Column("media_type", sa.String(20), nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
    sa.Column("content_hash", sa.String(64), nullable=False),
    sa.Column("received_at", sa.String(27), nullable=False),
    sa.Column("received_by", sa.String(200), nullable=False),
    sa.UniqueConstraint("project_id", "number"),
)

# Gaps that were measured at the slab edge, as they were sent, and the survey's version that they made.
sent_readings = sa.Table(
    "sent_readings",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("sent_id", sa.String(60), primary_key=True),
    sa.Column("number", sa.Integer, nullable=False),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("document", sa.Text, nullable=False),
    sa.Column("version", sa.Integer, nullable=False),
    sa.Column("received_at", sa.String(27), nullable=False),
    sa.Column("received_by", sa.String(200), nullable=False),
    sa.UniqueConstraint("project_id", "number"),
)

idempotency_keys = sa.Table(
    "idempotency_keys",
    metadata,
    sa.Column("company_id", sa.ForeignKey("companies.id"), primary_key=True),
    sa.Column("key", sa.String(255), primary_key=True),
    sa.Column("request_hash", sa.String(64), nullable=False),
    sa.Column("made", sa.String(32), nullable=False),
    sa.Column("at", sa.String(27), nullable=False),
)

# Addresses of a company's own that are told what happens; `events` is a JSON list.
webhooks = sa.Table(
    "webhooks",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False, index=True),
    sa.Column("url", sa.String(500), nullable=False),
    sa.Column("events", sa.Text, nullable=False),
    sa.Column("days_before", sa.Integer, nullable=False),
    sa.Column("secret", sa.String(80), nullable=False),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("created_by", sa.String(200), nullable=False),
)

# What a webhook is told, and how the last attempt ended; `next_attempt_at` is NULL once it has ended.
webhook_deliveries = sa.Table(
    "webhook_deliveries",
    metadata,
    sa.Column("id", sa.String(32), primary_key=True),
    sa.Column("webhook_id", sa.ForeignKey("webhooks.id"), nullable=False),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("project_id", sa.String(32), nullable=False, index=True),
    sa.Column("event", sa.String(20), nullable=False),
    sa.Column("subject", sa.String(60), nullable=False),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("status", sa.String(10), nullable=False),
    sa.Column("attempts", sa.Integer, nullable=False),
    sa.Column("last_answer", sa.String(200), nullable=False),
    sa.Column("created_at", sa.String(27), nullable=False),
    sa.Column("next_attempt_at", sa.String(27)),
    sa.Column("delivered_at", sa.String(27)),
    sa.UniqueConstraint("webhook_id", "event", "subject"),
    sa.Index(None, "status", "next_attempt_at"),
)

# The calendar feed of a project: who has its secret address reads it. Of the secret only a hash is kept.
calendar_feeds = sa.Table(
    "calendar_feeds",
    metadata,
    sa.Column("project_id", sa.ForeignKey("projects.id"), primary_key=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("secret_hash", sa.String(64), nullable=False),
    sa.Column("made_at", sa.String(27), nullable=False),
    sa.Column("made_by", sa.String(200), nullable=False),
    sa.Column("last_used_at", sa.String(27)),
    sa.UniqueConstraint("secret_hash"),
)

workers = sa.Table(
    "workers",
    metadata,
    sa.Column("name", sa.String(100), primary_key=True),
    sa.Column("started_at", sa.String(27), nullable=False),
    sa.Column("heartbeat", sa.Float, nullable=False),
)

changes = sa.Table(
    "changes",
    metadata,
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("company_id", sa.ForeignKey("companies.id"), nullable=False),
    sa.Column("project_id", sa.String(32)),
    sa.Column("subject", sa.String(80), nullable=False),
    sa.Column("action", sa.String(40), nullable=False),
    sa.Column("who", sa.String(200), nullable=False),
    sa.Column("at", sa.String(27), nullable=False),
    sa.Index(None, "company_id", "project_id", "number"),
)


def compressed(text: str | bytes) -> bytes:
    """A document as it is kept."""
    return zlib.compress(text.encode() if isinstance(text, str) else text, 1)


def restored(document: bytes) -> bytes:
    """A kept document's text, as UTF-8."""
    return zlib.decompress(document)
