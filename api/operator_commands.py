"""What an operator does beside serving: verifying, backing up, restoring; what the command line calls.

Every function raises CannotBeDone, in sentences, where the database cannot be used (exit code 1), and leaves with 2
for a setting or a file that is unusable.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa

from api.backup.archive import UnusableBackup
from api.companies.erasure import NotNow
from api.companies.holdings import UnknownCompany
from api.orders.findings import Verified
from api.settings import Settings, UnusableSetting, settings_from, sqlite_path
from api.storage.engine import Storage
from api.storage.trouble import UnusableDatabase, unusable
from optimiser.errors.problems import CannotBeDone
from optimiser.tables.text import counted


def verify(acknowledge: str | None = None) -> tuple[list[str], bool]:
    """Verifies every issued order; with `acknowledge`, the name of who does, what is found no longer stops issuing.

    The lines to print, and whether there is nothing that nobody has acknowledged.
    """
    from api.orders import anchoring
    from api.orders.anchor import anchor_of
    from api.orders.checks import check_all

    settings = usable_settings()
    with in_plain_words(settings), _existing(settings) as storage:
        anchor = anchor_of(settings)
        anchoring.attend(storage, anchor)
        lines = []
        if acknowledge is not None:
            found = anchoring.acknowledge(storage, anchor, acknowledge)
            lines = [f"acknowledged by {acknowledge}: {one.says}" for one in found]
            if not found:
                lines = ["there is nothing to acknowledge"]
        verified = check_all(storage, anchor)
        return [*lines, *lines_of(verified)], not verified.findings


def backup(file: Path) -> list[str]:
    """Backs everything up into one new file while the service runs: the lines to print."""
    from api.backup.service import back_up
    from api.orders.anchor import anchor_of

    settings = usable_settings()
    with in_plain_words(settings), _existing(settings, of_any_form=True) as storage:
        anchor = anchor_of(settings)
        made = back_up(storage, anchor, file)

    def held(table: str, noun: str) -> str:
        return counted(made.rows.get(table, 0), noun)

    return [
        f"{file}: {held('projects', 'project')}, {held('issued_orders', 'issued order')} with"
        f" {held('issued_documents', 'document')}, {held('photographs', 'photograph')}, the anchor",
        f"not in it: the signing key {anchor.key_path}; keep a copy of it apart from the backups",
    ]


def restore(file: Path) -> tuple[list[str], bool]:
    """Puts a backup into an empty place and verifies it: the lines to print, and whether nothing was found."""
    from api.backup import service

    settings = usable_settings()
    with in_plain_words(settings):
        made, verified = service.restore(settings, file)
    place = (
        settings.database_url.removeprefix("sqlite:///") if settings.embedded else "the PostgreSQL database"
    )
    return [f"the backup of {made.made_at[:19]} is in {place}", *lines_of(verified)], not verified.findings


def export(company: str, file: Path) -> list[str]:
    """Writes everything that is kept of a company into one new file: the lines to print."""
    from api.audit.repository import add_line
    from api.companies.erasure import operators_line
    from api.companies.export import export as exported
    from api.companies.holdings import find_company

    settings = usable_settings()
    with in_plain_words(settings), _existing(settings) as storage:
        rows = exported(storage, company, file)
        with storage.writing() as connection:
            add_line(connection, operators_line(find_company(connection, company), "export", str(file)))
    held = [
        counted(rows.get(table, 0), noun)
        for table, noun in (
            ("projects", "project"),
            ("issued_orders", "issued order"),
            ("issued_documents", "document"),
            ("photographs", "photograph"),
            ("record_events", "event"),
        )
    ]
    return [f"{file}: {', '.join(held)} of {company}; without secrets of keys"]


def erase(company: str, person: str | None, confirmed: bool) -> list[str]:
    """Erases a person's name in a company's rows, or, without a person, all of the company but what must be kept; only
    when it is `confirmed`. The lines to print."""
    from api.companies.erasure import close_company, erase_person
    from api.orders.anchor import anchor_of

    settings = usable_settings()
    with in_plain_words(settings), _existing(settings) as storage:
        anchor = anchor_of(settings)
        if person is None:
            done = close_company(storage, anchor, company, really=confirmed)
        else:
            done = erase_person(storage, anchor, company, person, really=confirmed)
    whose = f"{person} stands" if person is not None else f"of {company}"
    lines = [f"{whose} in {table}: {counted(count, 'row')}" for table, count in sorted(done.rows.items())]
    lines = lines or [f"nothing {'has the name' if person is not None else 'is kept'} besides what stays"]
    lines += [f"stays: {place}" for place in done.stays]
    if not confirmed:
        return [*lines, "nothing was erased yet: add --confirm"]
    return [*lines, f"replaced by: {done.stands_for}" if person is not None else "erased"]


def retention(years: int, confirmed: bool) -> list[str]:
    """Deletes buildings of which nothing happened for so many years, with their issued orders; only when it is
    `confirmed`. The lines to print."""
    from api.companies.retention import end_retention
    from api.orders.anchor import anchor_of

    settings = usable_settings()
    with in_plain_words(settings), _existing(settings) as storage:
        ended = end_retention(storage, anchor_of(settings), years, really=confirmed)
    lines = [
        f"{one.company}: {one.name} (project {one.project_id}), {counted(one.orders, 'issued order')}, last changed"
        f" {one.last_change[:10]}"
        for one in ended
    ]
    if not ended:
        return [f"no building has stood unchanged for {counted(years, 'year')}"]
    return [*lines, "deleted" if confirmed else "nothing was deleted yet: add --confirm"]


def lines_of(verified: Verified) -> list[str]:
    """A verification's outcome, a line a finding."""
    lines = [one.says for one in verified.findings]
    lines += [f"{one.says} (acknowledged by {who})" for one, who in verified.acknowledged]
    if not verified.findings:
        besides = " besides what is acknowledged" if verified.acknowledged else ""
        are = "is" if verified.revisions == 1 else "are"
        lines.append(
            f"{counted(verified.revisions, 'issued order')} with {counted(verified.documents, 'document')} {are} what"
            f" was issued{besides}"
        )
    return lines


def usable_settings() -> Settings:
    """The settings of the environment; leaves with 2 when one is unusable."""
    try:
        return settings_from()
    except UnusableSetting as error:
        print(error, file=sys.stderr)
        raise SystemExit(2) from None


@contextmanager
def in_plain_words(settings: Settings) -> Iterator[None]:
    """Turns what makes a database or a backup unusable into sentences."""
    try:
        yield
    except UnusableBackup as error:
        print(error, file=sys.stderr)
        raise SystemExit(2) from None
    except (UnusableDatabase, UnknownCompany, NotNow) as error:
        raise CannotBeDone([str(error)]) from None
    except sa.exc.SQLAlchemyError as error:
        raise CannotBeDone([str(unusable(settings.database_url, error))]) from None
    except FileExistsError as error:
        raise CannotBeDone([f"There is a file {error} already; name a new one."]) from None


@contextmanager
def _existing(settings: Settings, of_any_form: bool = False) -> Iterator[Storage]:
    """A database that is there already, in the form of this version unless it may be `of_any_form` before it. Raises
    UnusableDatabase."""
    if settings.embedded and not sqlite_path(settings.database_url).exists():
        path = sqlite_path(settings.database_url)
        raise UnusableDatabase(f"There is no database file {path}: name it with DATABASE_URL.")
    storage = Storage(settings.database_url)
    try:
        with storage.reading() as connection:
            storage.refuse_newer_schema(connection)
            found, newest = storage.schema(connection), storage.newest_schema()
        if not found:
            raise UnusableDatabase(
                "The database has no tables of this software: the service was never started on it."
            )
        if found != newest and not of_any_form:
            raise UnusableDatabase(
                f"The database is of an older form ({found}; this version's is {newest}): start the service"
                " once, which brings"
                " it up to date."
            )
        yield storage
    finally:
        storage.close()
