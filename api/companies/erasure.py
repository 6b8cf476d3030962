"""Erasing a person's name, and a company that goes, without breaking the chain of issued orders.

What an issued order's hash covers is never touched. A name that stands beside it is replaced by 'erased person' and a
number, the same wherever that person acted, and of an order its salt is erased too (`api.orders.chain`); the anchor is
told, so that a backup which brings the name back is found. What the hash does cover (the documents as they were sent,
the plan and the survey behind them, the name in orders of earlier versions) stays as long as the order must be kept,
and is told.

One module although long: what is erased and what must stay is one decision, read whole by whoever answers for it.
"""

from __future__ import annotations

import json
import re
import secrets
import zlib
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from api import clock
from api.audit.repository import Line, add_line
from api.changes.repository import log_change
from api.companies.holdings import (
    DOCUMENTS,
    PEOPLE,
    find_company,
    is_result_of_an_issued_plan,
    issued_of,
    rows_of,
    tables_of_companies,
)
from api.jobs.model import OPEN
from api.orders.anchor import Anchor, HeldAnchor
from api.storage.engine import Storage
from api.storage.guards import lifted
from api.storage.tables import (
    MADE_AGAIN,
    accounts,
    api_keys,
    audit_log,
    changes,
    companies,
    compressed,
    issued_documents,
    issued_orders,
    job_results,
    jobs,
    project_versions,
    projects,
    restored,
    sessions,
)
from optimiser.tables.text import counted

OPERATOR = "operator"


@dataclass(frozen=True)
class Erased:
    """What was erased, or would be: by table how many rows, and what stays, in words."""

    rows: dict[str, int]
    stays: tuple[str, ...] = ()
    stands_for: str = ""


class NotNow(Exception):  # noqa: N818 (the operator's matter)
    """It cannot be erased now; the message says what to do first."""


def erase_person(storage: Storage, anchor: Anchor, company: str, name: str, *, really: bool) -> Erased:
    """Replaces a person's name wherever a company's rows have it outside what issued orders' hashes cover; accounts and
    keys of that name are ended. Unless `really`, only counts. Raises UnknownCompany."""
    pseudonym = f"erased person {secrets.token_hex(3)}"
    naming = _Naming(name, pseudonym)
    with storage.writing() as connection, anchor.locked() as held:
        company_id = find_company(connection, company)
        found_rows: dict[str, int] = {}
        with lifted(connection):
            _of_issuers(connection, held, company_id, naming, found_rows, really)
            for table in tables_of_companies():
                if table.name in MADE_AGAIN:  # it may have the name too, and is made again without it
                    delete(connection, table, rows_of(table, company_id), really)
                found = _replace_in(connection, table, company_id, naming, really)
                if found:
                    found_rows[table.name] = found_rows.get(table.name, 0) + found
        stays = tuple(_still_named(connection, company_id, naming))
        if really and found_rows:
            log_change(connection, company_id, None, f"the name of {pseudonym}", "erased", OPERATOR)
            add_line(connection, operators_line(company_id, "erase", pseudonym))
    return Erased(found_rows, stays, pseudonym)


def close_company(storage: Storage, anchor: Anchor, company: str, *, really: bool) -> Erased:
    """Deletes everything of a company but its issued orders, with their documents and the plans and surveys that they
    were made from; nothing of it can be reached by a key any more. Unless `really`, only counts.

    Raises UnknownCompany; NotNow while jobs of it are unfinished.
    """
    with storage.writing() as connection, anchor.locked():
        company_id = find_company(connection, company)
        unfinished = connection.scalar(
            sa.select(sa.func.count()).where(jobs.c.company_id == company_id, jobs.c.status.in_(OPEN))
        )
        if unfinished:
            raise NotNow(
                f"{company} has {counted(unfinished, 'unfinished job')}: wait until all have ended, or cancel them."
            )
        kept = _kept_for_orders(connection, company_id)
        found_rows: dict[str, int] = {}
        with lifted(connection):
            for table in reversed(tables_of_companies()):
                going = rows_of(table, company_id)
                if table.name in kept:
                    going = sa.and_(going, sa.not_(kept[table.name]))
                found_rows[table.name] = delete(connection, table, going, really)
        stays = connection.scalar(sa.select(sa.func.count()).where(issued_orders.c.company_id == company_id))
        if really and stays:
            log_change(connection, company_id, None, "company", "closed", OPERATOR)
        if really:
            add_line(connection, operators_line(company_id if stays else None, "erase", company))
    whose = "its" if stays == 1 else "their"
    says = (f"{counted(stays, 'issued order')}, with {whose} documents, plans and surveys",) if stays else ()
    return Erased({name: count for name, count in found_rows.items() if count}, says)


def operators_line(company_id: str | None, command: str, subject: str) -> Line:
    """The line of the log for what the operator did to a company's data by a command."""
    return Line(company_id, OPERATOR, f"command {command}", subject, "command line", 0, "done")


def delete(connection: sa.Connection, table: sa.Table, going: sa.ColumnElement[bool], really: bool) -> int:
    """Deletes rows, or counts them."""
    if really:
        return connection.execute(sa.delete(table).where(going)).rowcount
    return connection.scalar(sa.select(sa.func.count()).select_from(table).where(going)) or 0


def _kept_for_orders(connection: sa.Connection, company_id: str) -> dict[str, sa.ColumnElement[bool]]:
    """By table, the rows that issued orders rest on."""
    issued = connection.execute(issued_of(company_id)).all()
    if not issued:
        return {}
    surveys = [
        sa.and_(
            project_versions.c.project_id == row.project_id,
            project_versions.c.version == json.loads(restored(row.document))["project_version"],
        )
        for row in issued
    ]
    with_orders = sa.select(issued_orders.c.project_id)
    plans = sa.select(issued_orders.c.plan_id)
    return {
        "companies": sa.true(),
        "issued_orders": sa.true(),
        "issued_documents": sa.true(),
        "projects": projects.c.id.in_(with_orders),
        "project_versions": sa.or_(*surveys),
        "jobs": jobs.c.id.in_(plans),
        "job_results": job_results.c.job_id.in_(plans),
        "changes": sa.and_(changes.c.project_id.in_(with_orders), changes.c.subject.like("order revision %")),
    }


class _Naming:
    """A person's name, found as whole words, and what stands in its place."""

    def __init__(self, name: str, pseudonym: str) -> None:
        self.pseudonym = pseudonym
        self._words = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")

    def is_in(self, text: str) -> bool:
        """Whether a text has the name."""
        return self._words.search(text) is not None

    def replaced(self, value: Any) -> Any:
        """A text, or a JSON value with its texts, without the name."""
        if isinstance(value, str):
            return self._words.sub(self.pseudonym, value)
        if isinstance(value, dict):
            return {key: self.replaced(item) for key, item in value.items()}
        return [self.replaced(item) for item in value] if isinstance(value, list) else value


def _of_issuers(
    connection: sa.Connection,
    held: HeldAnchor,
    company_id: str,
    naming: _Naming,
    found_rows: dict[str, int],
    really: bool,
) -> None:
    """The names beside issued orders, with their salts; the anchor is told first."""
    rows = connection.execute(
        sa.select(issued_orders.c.project_id, issued_orders.c.revision, issued_orders.c.issued_by).where(
            issued_orders.c.company_id == company_id
        )
    ).all()
    mine = [row for row in rows if naming.is_in(row.issued_by)]
    for row in mine if really else ():
        held.add("erased", project_id=row.project_id, revision=row.revision)
        connection.execute(
            sa.update(issued_orders)
            .where(issued_orders.c.project_id == row.project_id, issued_orders.c.revision == row.revision)
            .values(issued_by=naming.replaced(row.issued_by)[:200], issuer_salt=None)
        )
    if mine:
        found_rows[issued_orders.name] = len(mine)


def _replace_in(
    connection: sa.Connection, table: sa.Table, company_id: str, naming: _Naming, really: bool
) -> int:
    """Replaces the name in a table's columns: how many rows had it."""
    people = PEOPLE.get(table.name, ()) if table is not issued_orders else ()
    documents = DOCUMENTS.get(table.name, ())
    if not people and not documents:
        return 0
    key = list(table.primary_key.columns)
    wanted = [*key, *(table.c[name] for name in (*people, *documents))]
    found = 0
    hashed = _hashed_rows(connection, table, company_id)
    keys = connection.execute(sa.select(*key).where(rows_of(table, company_id))).all()
    for one in keys:  # a row at a time: documents are large
        where = [column == value for column, value in zip(key, one, strict=True)]
        values = connection.execute(sa.select(*wanted).where(*where)).one()._mapping
        new: dict[str, Any] = {}
        for column in people:
            text = values[column]
            if text is not None and naming.is_in(text):
                new[column] = naming.replaced(text)[: getattr(table.c[column].type, "length", None)]
        own_key = tuple(values[column.name] for column in key)
        for column in documents if own_key not in hashed else ():
            changed = _document_without(values[column], naming)
            if changed is not None:
                new[column] = changed
        if not new:
            continue
        found += 1
        if really:
            new |= _ending(table, new)
            connection.execute(sa.update(table).where(*where).values(new))
            if (browsers := _sessions_of(table, one[0])) is not None:
                connection.execute(sa.delete(sessions).where(browsers))
    return found


def _ending(table: sa.Table, new: dict[str, Any]) -> dict[str, Any]:
    """What else becomes of a row whose name is erased: an account or a key is ended, and nothing else is known of whose
    it was; a line of the log no longer says from where."""
    if table is accounts:
        return {"email": None, "issuer": None, "subject": None, "ended_at": clock.now()}
    if table is api_keys:
        return {"revoked_at": clock.now(), "last_used_from": None}
    return {"address": ""} if table is audit_log and "who" in new else {}


def _sessions_of(table: sa.Table, key: object) -> sa.ColumnElement[bool] | None:
    """The browsers of an account or a key, with their addresses; None for any other row."""
    if table is accounts:
        return sessions.c.account_id == key
    return sessions.c.key_id == key if table is api_keys else None


def _hashed_rows(connection: sa.Connection, table: sa.Table, company_id: str) -> set[tuple[object, ...]]:
    """The keys of the rows whose documents issued orders' hashes cover."""
    if table is job_results:
        covered = sa.select(job_results.c.job_id).where(is_result_of_an_issued_plan())
        return {(row.job_id,) for row in connection.execute(covered)}
    if table is project_versions:
        issued = connection.execute(issued_of(company_id)).all()
        return {(row.project_id, json.loads(restored(row.document))["project_version"]) for row in issued}
    return set()


def _document_without(kept: str | bytes, naming: _Naming) -> str | bytes | None:
    """A document without the name, in the form in which it is kept; None where it has it not."""
    text = kept if isinstance(kept, str) else _text_of(bytes(kept))
    if text is None or not naming.is_in(text):
        return None
    document = json.loads(text)
    changed = naming.replaced(document)
    if changed == document:
        return None
    written = json.dumps(changed, ensure_ascii=False, separators=(",", ":"))
    return written if isinstance(kept, str) else compressed(written)


def _text_of(kept: bytes) -> str | None:
    try:
        return restored(kept).decode()
    except (zlib.error, UnicodeDecodeError):
        return None


def _still_named(connection: sa.Connection, company_id: str, naming: _Naming) -> list[str]:
    """Where the name stays, since hashes of issued orders cover it, or as the company's own words."""
    found = []
    for row in connection.execute(issued_of(company_id)):
        place = f"order {row.revision} of project {row.project_id}"
        if naming.is_in(restored(row.document).decode()):
            found.append(f"{place}: what its hash covers")
        kept = connection.execute(
            sa.select(issued_documents.c.name, issued_documents.c.content).where(
                issued_documents.c.project_id == row.project_id,
                issued_documents.c.revision == row.revision,
            )
        )
        found += [
            f"{place}: {one.name}"
            for one in kept
            if (text := _text_of(bytes(one.content))) is not None and naming.is_in(text)
        ]
    name = connection.scalar(sa.select(companies.c.name).where(companies.c.id == company_id)) or ""
    if naming.is_in(name):
        found.append("the company's own name")
    for project in connection.execute(
        sa.select(projects.c.id, projects.c.name).where(projects.c.company_id == company_id)
    ):
        if naming.is_in(project.name):
            found.append(f"the name of project {project.id}")
    return found
