"""What an operator does to people and keys from the command line: each returns the lines to print."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts import people, repository
from api.accounts.keys import id_in
from api.accounts.names import UnusableName
from api.accounts.service import add_key, rotate_key

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


def add(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Makes a key."""
    account_id = _person(connection, options.person).id if options.person else None
    expires = moment(options.expires) if options.expires else None
    yield add_key(connection, options.company, options.name, options.role, account_id, expires)


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
    key_id, at = id_in(options.key), moment(options.at)
    if not repository.expire_key(connection, key_id, at):
        raise NotThere(f"there is no key {key_id} that is not ended; see `list`")
    yield f"key {key_id} {'expires ' + at[:16] + 'Z' if at else 'never expires'}"


def rotate(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Gives a key a new secret."""
    key_id, until = id_in(options.key), moment(options.old_until)
    if until is None:
        raise UnusableName("The secret before must end: give a moment for --old-until, not never.")
    text = rotate_key(connection, key_id, until)
    if text is None:
        raise NotThere(f"there is no key {key_id} that is not ended; see `list`")
    yield text


def revoke(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Ends a key."""
    key_id = id_in(options.key)
    if not repository.revoke_key(connection, key_id):
        raise NotThere(f"there is no key {key_id} that could be ended; see `list`")
    yield f"key {key_id} is ended"


def add_person(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Makes an account."""
    yield people.add_person(connection, options.company, options.name, options.role, options.email)


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
    yield f"{found.name} may {options.role} from now on"


def end_person(connection: sa.Connection, options: Options) -> Iterable[str]:
    """Ends an account."""
    found = _person(connection, options.person)
    people.end_person(connection, found.id)
    yield f"the account of {found.name} is ended, with its keys"


def _person(connection: sa.Connection, text: str) -> Any:
    found = people.person_named(connection, text)
    if found is None:
        raise NotThere(f"there is no account {text}; see `people`")
    return found


def _past(past: str, future: str, moment: str) -> str:
    return past if moment <= clock.now() else future
