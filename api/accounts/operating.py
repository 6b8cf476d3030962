"""What an operator does to people and keys from the command line: each returns the lines to print."""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Iterable
from datetime import UTC, datetime
from getpass import getuser
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts import people, repository, sessions
from api.accounts.keys import id_in
from api.accounts.names import UnusableName
from api.accounts.service import add_key, rotate_key
from api.audit.export import exported
from api.audit.repository import Line, add_line, all_lines
from api.storage.engine import Storage
from optimiser.tables.text import counted

_COMMAND = "command line"
_DAYS = re.compile(r"(\d{1,5})d")
Options = argparse.Namespace


class NotThere(Exception):  # noqa: N818 (the operator's matter)
    """There is no such key, account or session; the message says where to look."""


def moment(text: str) -> str | None:
    """A moment that an operator names: 90d from now, an ISO 8601 day or moment; None for 'never'. Raises
    UnusableName."""
    if text == "never":
        return None
    days = _DAYS.fullmatch(text)
    try:
        return clock.in_seconds(int(days[1]) * 86400) if days else clock.moment_of(text)
    except (ValueError, OverflowError):
        this_year = datetime.now(UTC).year
        raise UnusableName(
            f"{text!r} is no moment: give a number of days such as 90d, or a day such as {this_year}-12-31."
        ) from None


def _log(connection: sa.Connection, options: Options, company_id: str | None, subject: str) -> None:
    """Puts what an operator did on the log, under the name of the machine's user."""
    line = Line(company_id, f"operator {_user()}", f"command {options.command}", subject, _COMMAND, 0, "done")
    add_line(connection, line)


def _user() -> str:
    try:
        return getuser()
    except (KeyError, OSError):  # a container's user without a name
        return str(os.geteuid())


def _key(connection: sa.Connection, text: str) -> Any:
    found = repository.key_with_id(connection, id_in(text))
    if found is None:
        raise NotThere(f"there is no key {id_in(text)[:40]} that is not ended; see `list`")
    return found


def add(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Makes a key."""
    account_id = _person(connection, options.person).id if options.person else None
    expires = moment(options.expires) if options.expires else None
    text = add_key(connection, options.company, options.name, options.role, account_id, expires)
    made = _key(connection, text)
    _log(connection, options, made.company_id, f"key {made.id} '{made.name}', role {made.role}")
    yield text


def list_keys(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Every key."""
    for key in repository.all_keys(connection):
        whose = f" of {key.person}" if key.person else ""
        facts = [f"made {key.created_at[:16]}Z"]
        if key.last_used_at:
            facts.append(f"last used {key.last_used_at[:16]}Z from {key.last_used_from}")
        if key.expires_at:
            facts.append(f"{_past('expired', 'expires', key.expires_at)} {key.expires_at[:16]}Z")
        if key.previous_until:
            facts.append(f"the secret before is good until {key.previous_until[:16]}Z")
        if key.revoked_at:
            facts.append(f"ended {key.revoked_at[:16]}Z")
        yield f"{key.id}  {key.role:10}  {key.company}: {key.name}{whose}  {', '.join(facts)}"


def expire(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Says when a key expires."""
    key, at = _key(connection, options.key), moment(options.at)
    repository.expire_key(connection, key.id, at)
    when = f"expires {at[:16]}Z" if at else "never expires"
    _log(connection, options, key.company_id, f"key {key.id} {when}")
    yield f"key {key.id} {when}"


def rotate(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Gives a key a new secret."""
    key, until = _key(connection, options.key), moment(options.old_until)
    if until is None:
        raise UnusableName("The secret before must end: give a moment for --old-until, not never.")
    text = rotate_key(connection, key.id, until)
    _log(connection, options, key.company_id, f"key {key.id}, the secret before good until {until[:16]}Z")
    yield str(text)


def revoke(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Ends a key."""
    key = _key(connection, options.key)
    repository.revoke_key(connection, key.id)
    _log(connection, options, key.company_id, f"key {key.id}")
    yield f"key {key.id} is ended"


def add_person(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Makes an account."""
    account_id = people.add_person(connection, options.company, options.name, options.role, options.email)
    made = _person(connection, account_id)
    _log(connection, options, made.company_id, f"account {account_id} '{made.name}', role {made.role}")
    yield account_id


def list_people(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Every account."""
    for one in repository.all_accounts(connection):
        known = one.email or (f"subject {one.subject}" if one.subject else "by keys alone")
        ended = f", ended {one.ended_at[:16]}Z" if one.ended_at else ""
        yield f"{one.id}  {one.role:10}  {one.company}: {one.name}, {known}  made {one.created_at[:16]}Z{ended}"


def change_person(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Gives a person another role."""
    found = _person(connection, options.person)
    repository.change_account(connection, found.id, role=options.role)
    _log(connection, options, found.company_id, f"account {found.id} '{found.name}', role {options.role}")
    yield f"{found.name} may {options.role} from now on"


def end_person(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Ends an account."""
    found = _person(connection, options.person)
    people.end_person(connection, found.id)
    _log(connection, options, found.company_id, f"account {found.id} '{found.name}'")
    yield f"the account of {found.name} is ended, with its keys"


def list_sessions(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Every browser that is signed in."""
    for one in sessions.standing_sessions(connection):
        whose = ", ".join(name for name in (one.person, one.key) if name)
        yield (
            f"{one.id}  {one.company}: {whose}  since {one.begun_at[:16]}Z from {one.begun_from},"
            f" last used {one.last_used_at[:16]}Z, expires {one.expires_at[:16]}Z"
        )


def end_sessions(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Signs browsers out."""
    company_id, subject = None, "everybody's"
    if options.person:
        found = _person(connection, options.person)
        company_id, subject = found.company_id, f"those of account {found.id} '{found.name}'"
        ended = sessions.end_sessions(connection, account_id=found.id)
    elif options.key:
        key = _key(connection, options.key)
        company_id, subject = key.company_id, f"those of key {key.id}"
        ended = sessions.end_sessions(connection, key_id=key.id)
    elif options.session:
        standing = {one.id: one for one in sessions.standing_sessions(connection)}
        if options.session not in standing:
            raise NotThere(f"there is no session {options.session[:40]} that goes on; see `sessions`")
        company_id, subject = standing[options.session].company_id, options.session
        ended = int(sessions.end_session(connection, options.session))
    else:
        ended = sessions.end_sessions(connection)
    _log(connection, options, company_id, subject)
    yield f"{counted(ended, 'session')} ended"


def export_log(storage: Storage, options: Options) -> Iterable[str]:
    """The log of a company, or of the whole service, as a file's text; that it was taken is put on it."""
    since = (moment(options.since) or "") if options.since else ""
    with storage.writing() as connection:
        company_id = None
        if options.company:
            company_id = repository.company_with_name(connection, options.company)
            if company_id is None:
                raise NotThere(f"there is no company {options.company[:120]!r}; see `list` and `people`")
        _log(connection, options, company_id, f"as {options.form}")
    yield from exported(all_lines(storage, company_id, since), options.form)


def _person(connection: sa.Connection, text: str) -> Any:
    found = people.person_named(connection, text)
    if found is None:
        raise NotThere(f"there is no account {text}; see `people`")
    return found


def _past(past: str, future: str, at: str) -> str:
    return past if at <= clock.now() else future
