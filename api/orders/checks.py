"""Verifying the issued orders at the start, on a schedule and before each issue; what is found stops issuing."""

from __future__ import annotations

import sqlalchemy as sa
import structlog

from api import clock
from api.http.problem_details import Problem
from api.orders.anchor import Anchor
from api.orders.findings import (
    OF_THE_CHAIN,
    OF_THE_FILES,
    Finding,
    Verified,
    findings_as_json,
    findings_from_json,
)
from api.orders.verification import verify
from api.storage.engine import Storage
from api.storage.tables import order_checks
from api.storage.trouble import unusable
from optimiser.tables.text import counted

_KEPT = 500  # checks that the database remembers


def check_all(storage: Storage, anchor: Anchor) -> Verified:
    """Verifies every issued order and keeps what was found, so that every serving process knows.

    Raises UnusableDatabase where the database or the anchor cannot be read or written.
    """
    try:
        verified = verify(storage, anchor)
        _keep(storage, verified)
    except sa.exc.SQLAlchemyError as error:
        raise unusable(storage.url, error) from error
    return verified


def log_findings(verified: Verified) -> None:
    """Tells the operator's log of each finding."""
    for one in verified.findings:
        structlog.get_logger().error("issued_orders_in_doubt", kind=one.kind, says=one.says)


def _keep(storage: Storage, verified: Verified) -> None:
    of_the_database = tuple(one for one in verified.findings if one.kind not in OF_THE_FILES)
    with storage.writing() as connection:
        connection.execute(
            sa.insert(order_checks).values(
                at=clock.now(),
                revisions=verified.revisions,
                documents=verified.documents,
                findings=findings_as_json(of_the_database),
            )
        )
        newest = connection.scalar(sa.select(sa.func.max(order_checks.c.number))) or 0
        connection.execute(sa.delete(order_checks).where(order_checks.c.number <= newest - _KEPT))


def last_check(connection: sa.Connection) -> tuple[str, tuple[Finding, ...]] | None:
    """When every issued order was verified last, and what was found."""
    row = connection.execute(sa.select(order_checks).order_by(order_checks.c.number.desc()).limit(1)).first()
    return None if row is None else (row.at, findings_from_json(row.findings))


def broken_chain(storage: Storage, anchor: Anchor, project_id: str) -> list[str]:
    """What a project's revisions no longer are, in sentences: altered or missing; [] where they are what was issued,
    or an operator has acknowledged what was found. Their documents, which may be many megabytes, are not read: that is
    done at the start, on a schedule, before each issue and at each download.

    Raises UnusableDatabase as `verify`.
    """
    found = verify(storage, anchor, project_id, documents=False).findings
    return [one.says for one in found if one.kind in OF_THE_CHAIN]


def refuse_when_in_doubt(storage: Storage, anchor: Anchor, project_id: str) -> None:
    """Verifies a project's issued orders before another is issued, and looks at what the last check of all found.

    Raises Problem 409 for whatever no operator has acknowledged: with what is about the project itself in full.
    """
    found = list(verify(storage, anchor, project_id).findings)
    with storage.reading() as connection:
        last = last_check(connection)
    if last is not None:
        known, seen = anchor.read().acknowledged, {one.fingerprint for one in found}
        found += [
            one
            for one in last[1]
            if one.fingerprint not in known and one.fingerprint not in seen and one.project_id != project_id
        ]
    if not found:
        return
    mine = [one.says for one in found if one.project_id in (None, project_id)]
    others = len(found) - len(mine)
    words = [
        *mine,
        *([f"{counted(others, 'finding')} about other projects."] if others else []),
    ]
    raise Problem(
        409,
        "issued-orders-in-doubt",
        "No order is issued until the operator has looked at what was found of those issued before"
        f" (`barrier-orders verify`, then `barrier-orders verify --acknowledge NAME`). {' '.join(words)}"[
            :2000
        ],
        findings=words[:50],
    )
