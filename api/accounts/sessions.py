"""Sessions: browsers that are signed in, kept in the database, so that signing out ends one at once wherever it is.

The browser's cookie holds the session's id and its secret; only the secret's hash is kept here. A session ends when it
was not used for a while, at the latest some hours after it was begun, when its key or its person's account ends, and
when anybody signs it out.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
import structlog

from api import clock
from api.accounts import repository
from api.accounts.keys import SESSION, is_secret_of, new_key, parts_of
from api.accounts.service import Caller, caller_of_key, refused, why_key_ended
from api.context import AppContext
from api.settings import Settings
from api.storage.tables import accounts, api_keys, companies, sessions

_USE_NOTED_EVERY = 60.0  # seconds, or a tenth of the time that a session may go unused
_FORGOTTEN_AFTER = 30 * 86400.0  # seconds after its end: what was done in it stands in the log


def begin_session(
    connection: sa.Connection, settings: Settings, caller: Caller, address: str, browser: str
) -> str:
    """A new session of whoever the key or the account is: what the browser's cookie holds. Forgets those that ended
    long ago."""
    text, session_id, secret_hash = new_key(SESSION)
    now = clock.now()
    connection.execute(sa.delete(sessions).where(sessions.c.expires_at < clock.in_seconds(-_FORGOTTEN_AFTER)))
    connection.execute(
        sa.insert(sessions).values(
            id=session_id,
            secret_hash=secret_hash,
            company_id=caller.company_id,
            account_id=caller.account_id or None,
            key_id=caller.key_id or None,
            begun_at=now,
            begun_from=address[:64],
            browser="".join(letter for letter in browser if letter.isprintable())[:200],
            last_used_at=now,
            expires_at=clock.in_seconds(settings.session_hours * 3600),
        )
    )
    return text


def caller_of_session(context: AppContext, address: str, text: str) -> Caller:
    """Whose session this is. Raises Problem 401 for one that is unknown or has ended, 429 above the rate."""
    parts = parts_of(text, SESSION)
    if parts is None:
        raise refused(context, address, "Sign in.")
    with context.storage.reading() as connection:
        found = connection.execute(sa.select(sessions).where(sessions.c.id == parts[0])).first()
        if found is None or not is_secret_of(parts[1], found.secret_hash):
            raise refused(context, address, "This session is not known. Sign in again.")
        caller = None if _is_over(context.settings, found) else _caller_of(connection, found)
    if caller is None:
        raise refused(context, address, "This session has ended. Sign in again.")
    context.rates.count(caller.company_id)
    _note_use(context, found)
    return caller


def _is_over(settings: Settings, session: Any) -> bool:
    idle = settings.session_idle_minutes * 60
    return (
        session.ended_at is not None
        or session.expires_at <= clock.now()
        or (idle > 0 and clock.seconds_since(session.last_used_at) >= idle)
    )


def _caller_of(connection: sa.Connection, session: Any) -> Caller | None:
    """Whoever's session it is, with the role of now; None where the key or the account has ended."""
    if session.key_id is not None:
        key = repository.key_with_id(connection, session.key_id)
        return None if key is None or why_key_ended(key) else caller_of_key(key, session.id)
    account = repository.account_where(connection, id=session.account_id)
    return None if account is None else caller_of_account(account, session.id)


def caller_of_account(account: Any, session_id: str = "") -> Caller:
    """Who calls as a person, without a key."""
    who = f"{account.name} (account {account.id})"
    return Caller(account.company_id, who, account.role, account_id=account.id, session_id=session_id)


def _note_use(context: AppContext, session: Any) -> None:
    idle = context.settings.session_idle_minutes * 60
    if clock.seconds_since(session.last_used_at) < min(_USE_NOTED_EVERY, idle / 10 or _USE_NOTED_EVERY):
        return
    try:
        with context.storage.writing() as connection:
            connection.execute(
                sa.update(sessions).where(sessions.c.id == session.id).values(last_used_at=clock.now())
            )
    except sa.exc.SQLAlchemyError as error:
        structlog.get_logger().warning("last_use_not_kept", session=session.id, error=type(error).__name__)


def end_session(connection: sa.Connection, session_id: str) -> bool:
    """Ends a session at once; False where there is none that goes on."""
    return _end(connection, sessions.c.id == session_id) == 1


def end_sessions_of(connection: sa.Connection, caller: Caller) -> int:
    """Ends every session of a person, or of a key that is nobody's, at once: how many."""
    if caller.account_id:
        return _end(connection, sessions.c.account_id == caller.account_id)
    return _end(connection, sessions.c.key_id == caller.key_id)


def end_sessions(connection: sa.Connection, **values: str) -> int:
    """Ends every session with these values (`account_id`, `key_id`, `company_id`), or all: how many."""
    return _end(connection, *(sessions.c[name] == value for name, value in values.items()))


def _end(connection: sa.Connection, *conditions: sa.ColumnElement[bool]) -> int:
    wanted = (sessions.c.ended_at.is_(None), sessions.c.expires_at > clock.now(), *conditions)
    return connection.execute(sa.update(sessions).where(*wanted).values(ended_at=clock.now())).rowcount


def standing_sessions(connection: sa.Connection, caller: Caller | None = None) -> list[Any]:
    """The sessions of a person or of a key, or all of every company, that nobody has ended and that have not expired,
    newest first; with `company`, `person` and `key`, the names of whose they are. Never a secret."""
    shown = [column for column in sessions.c if column.name != "secret_hash"]
    query = (
        sa.select(
            *shown,
            companies.c.name.label("company"),
            accounts.c.name.label("person"),
            api_keys.c.name.label("key"),
        )
        .join(companies, companies.c.id == sessions.c.company_id)
        .outerjoin(accounts, accounts.c.id == sessions.c.account_id)
        .outerjoin(api_keys, api_keys.c.id == sessions.c.key_id)
        .where(sessions.c.ended_at.is_(None), sessions.c.expires_at > clock.now())
        .order_by(sessions.c.begun_at.desc())
    )
    if caller is not None:
        mine = (
            sessions.c.account_id == caller.account_id
            if caller.account_id
            else sessions.c.key_id == caller.key_id
        )
        query = query.where(mine)
    return list(connection.execute(query))
