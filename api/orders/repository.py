"""Issued orders in the database: added, never altered (triggers refuse it)."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from api.orders.chain import Issued, hashed_part
from api.storage.tables import compressed, issued_documents, issued_orders, restored

PLAN, REFIT = "plan.json", "refit.json"


@dataclass(frozen=True)
class KeptDocument:
    """A document of an issued order, byte for byte."""

    name: str
    media_type: str
    content: bytes

    @property
    def sha256(self) -> str:
        """The SHA-256 of its bytes."""
        return hashlib.sha256(self.content).hexdigest()


def plan_document_of(document: Mapping[str, Any]) -> str:
    """The name of the document that an issued order's plan, or its refit, is kept under."""
    return REFIT if document.get("refit_id") else PLAN


def issued_from(connection: sa.Connection, company_id: str, job_id: str) -> Issued | None:
    """The revision that a plan or a refit was issued as."""
    row = connection.execute(
        sa.select(issued_orders).where(
            issued_orders.c.plan_id == job_id, issued_orders.c.company_id == company_id
        )
    ).first()
    return None if row is None else _issued(row)


def last_issued(connection: sa.Connection, project_id: str) -> tuple[Issued, str] | None:
    """A project's last revision, and the id of the plan or refit that it was issued from."""
    row = connection.execute(
        sa.select(issued_orders)
        .where(issued_orders.c.project_id == project_id)
        .order_by(issued_orders.c.revision.desc())
        .limit(1)
    ).first()
    return None if row is None else (_issued(row), row.plan_id)


def add_issued(connection: sa.Connection, company_id: str, job_id: str, issued: Issued) -> None:
    """Keeps a revision that was issued from a plan or a refit."""
    connection.execute(
        sa.insert(issued_orders).values(
            project_id=issued["project_id"],
            revision=issued["revision"],
            company_id=company_id,
            plan_id=job_id,
            document=compressed(json.dumps(hashed_part(issued), ensure_ascii=False)),
            issued_at=issued["issued_at"],
            issued_by=issued["issuer"],
            issuer_salt=issued["issuer_salt"],
            previous_hash=issued["previous_hash"],
            hash=issued["hash"],
        )
    )


def add_documents(
    connection: sa.Connection, project_id: str, revision: int, documents: Iterable[KeptDocument]
) -> None:
    """Keeps the documents of a revision."""
    for one in documents:
        connection.execute(
            sa.insert(issued_documents).values(
                project_id=project_id,
                revision=revision,
                name=one.name,
                media_type=one.media_type,
                content=compressed(one.content),
                content_hash=one.sha256,
            )
        )


def kept_document(connection: sa.Connection, job_id: str, name: str) -> sa.Row[Any] | None:
    """A document of the revision that a plan or a refit was issued as, its content as it is kept."""
    return connection.execute(
        sa.select(issued_documents)
        .join(
            issued_orders,
            sa.and_(
                issued_orders.c.project_id == issued_documents.c.project_id,
                issued_orders.c.revision == issued_documents.c.revision,
            ),
        )
        .where(issued_orders.c.plan_id == job_id, issued_documents.c.name == name)
    ).first()


def kept_plan(connection: sa.Connection, job_id: str) -> sa.Row[Any] | None:
    """The plan, or the refit, of the revision that it was issued as."""
    return kept_document(connection, job_id, PLAN) or kept_document(connection, job_id, REFIT)


def issued_orders_of(connection: sa.Connection, company_id: str, project_id: str) -> list[Issued]:
    """A project's issued orders, first to last."""
    rows = connection.execute(
        sa.select(issued_orders)
        .where(issued_orders.c.project_id == project_id, issued_orders.c.company_id == company_id)
        .order_by(issued_orders.c.revision)
    )
    return [_issued(row) for row in rows]


def issued_order(connection: sa.Connection, company_id: str, project_id: str, revision: int) -> Issued | None:
    """One revision."""
    row = connection.execute(
        sa.select(issued_orders).where(
            issued_orders.c.project_id == project_id,
            issued_orders.c.company_id == company_id,
            issued_orders.c.revision == revision,
        )
    ).first()
    return None if row is None else _issued(row)


def _issued(row: sa.Row[Any]) -> Issued:
    return {
        **json.loads(restored(row.document)),
        "previous_hash": row.previous_hash,
        "hash": row.hash,
        "issuer": row.issued_by,
    }
