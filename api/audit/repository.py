"""Lines of the log in the database: added, never altered (triggers refuse it)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from api import clock
from api.storage.engine import Storage
from api.storage.tables import audit_log, companies

_AT_A_TIME = 1000


@dataclass(frozen=True)
class Line:
    """What somebody did. `status` is HTTP's, 0 for a command of the operator's; `subject` is what it was done to, as
    its address or its name. `company_id` is whose log it stands in, None where it concerns the whole service."""

    company_id: str | None
    who: str
    operation: str
    subject: str
    address: str
    status: int
    result: str
    account_id: str = ""
    key_id: str = ""
    session_id: str = ""
    request_id: str = ""


def add_line(connection: sa.Connection, line: Line) -> None:
    """Adds a line to the log. What does not fit is cut short rather than left out."""
    connection.execute(
        sa.insert(audit_log).values(
            company_id=line.company_id,
            at=clock.now(),
            who=_fitted(line.who, 200),
            account_id=line.account_id or None,
            key_id=line.key_id or None,
            session_id=line.session_id or None,
            operation=_fitted(line.operation, 120),
            subject=_fitted(line.subject, 300),
            address=_fitted(line.address, 64),
            status=line.status,
            result=_fitted(line.result, 40),
            request_id=_fitted(line.request_id, 64),
        )
    )


def lines_before(
    connection: sa.Connection, company_id: str, limit: int, before: int | None = None, since: str = ""
) -> list[Any]:
    """A company's log, the newest first: the lines before a line's number, not older than a moment."""
    query = _lines(company_id, since).order_by(audit_log.c.number.desc()).limit(limit)
    if before is not None:
        query = query.where(audit_log.c.number < before)
    return list(connection.execute(query))


def all_lines(storage: Storage, company_id: str | None, since: str = "") -> Iterator[Any]:
    """A company's log, or with None the whole service's, the first line first: a thousand are read at a time, so that
    whoever takes it slowly holds no transaction open."""
    after = 0
    while True:
        query = _lines(company_id, since).where(audit_log.c.number > after)
        with storage.reading() as connection:
            found = connection.execute(query.order_by(audit_log.c.number).limit(_AT_A_TIME)).all()
        yield from found
        if len(found) < _AT_A_TIME:
            return
        after = found[-1].number


def _lines(company_id: str | None, since: str) -> sa.Select[Any]:
    query = sa.select(audit_log, companies.c.name.label("company")).outerjoin(
        companies, companies.c.id == audit_log.c.company_id
    )
    if company_id is not None:
        query = query.where(audit_log.c.company_id == company_id)
    return query.where(audit_log.c.at >= since) if since else query


def _fitted(text: str, most: int) -> str:
    plain = "".join(letter if letter.isprintable() else "?" for letter in text)
    return plain if len(plain) <= most else plain[: most - 3] + "..."
