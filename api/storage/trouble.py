"""What is wrong with a database that cannot be used, in one plain sentence."""

from __future__ import annotations

import os
from pathlib import Path

import sqlalchemy as sa

_ANOTHER = "restore a backup with `barrier-orders restore`, or name another database with DATABASE_URL"


class UnusableDatabase(Exception):  # noqa: N818 (the operator's matter, not the program's fault)
    """The database cannot be used; the message is one sentence that says why and what mends it."""


def unusable(url: str, error: BaseException) -> UnusableDatabase:
    """An error of the database as one sentence for its operator."""
    return UnusableDatabase(_sentence(url, error))


def newer_schema(url: str, found: str, known: str) -> UnusableDatabase:
    """A newer version of the software has written the database."""
    return UnusableDatabase(
        f"{_named(url)} was written by a newer version of this software: its tables are of form {found}, and this"
        f" version knows them up to {known}; install the newer version again, or restore a backup made before it."
    )


def refuse_an_emptied_file(path: Path, anchor: Path) -> None:
    """Raises UnusableDatabase for a database file without a byte in it beside an anchor that knows issued orders: it
    was not empty when they were issued."""
    if not (path.exists() and path.stat().st_size == 0 and anchor.exists()):
        return
    if any(kind in anchor.read_bytes() for kind in (b'"kind":"issued"', b'"kind":"adopted"')):
        raise UnusableDatabase(
            f"The database file {path} is empty, and orders were issued from it: it was truncated; {_ANOTHER}."
        )


def _named(url: str) -> str:
    address = sa.make_url(url)
    if url.startswith("sqlite"):
        return f"The database file {address.database}"
    return f"The database {address.database} on {address.host or 'this machine'}:{address.port or 5432}"


def _sentence(url: str, error: BaseException) -> str:
    said = str(getattr(error, "orig", None) or error).strip()
    name = _named(url)
    if not url.startswith("sqlite"):
        first = said.splitlines()[0] if said else type(error).__name__
        return (
            f"{name} does not answer as it should: {first.rstrip('.')}; see that it runs and that"
            " DATABASE_URL is right."
        )
    path = Path(str(sa.make_url(url).database))
    if "not a database" in said:
        return f"{name} is corrupt: it does not begin as an SQLite database does; {_ANOTHER}."
    if "malformed" in said or "disk I/O" in said or "corrupt" in said:
        return f"{name} is corrupt or truncated: parts of it are missing or unreadable; {_ANOTHER}."
    if "readonly" in said or "read-only" in said:
        return f"{name} is read-only: let this user write to the file and its folder ({path.parent}), then start again."
    if "unable to open" in said or isinstance(error, PermissionError | FileNotFoundError):
        if not path.parent.is_dir():
            return f"{name} cannot be made: there is no folder {path.parent}; make it, or name another file."
        if path.exists() and not os.access(path, os.R_OK):
            return f"{name} cannot be read by this user: give it to the user that runs the service."
        return f"{name} cannot be opened: let this user write to the folder {path.parent}."
    if "full" in said:
        return f"{name} cannot be written: the disk is full; free some space."
    if "locked" in said:
        return f"{name} is locked by another program for too long; end that program, then start again."
    return f"{name} cannot be used: {said.rstrip('.')}; {_ANOTHER}."
