"""Documents as they were rendered, kept for whoever asks next: made once, also where many ask at the same time.

What a document is made of is its key: the job's result, which never changes, how it is printed, with the revisions that
it names, and the very program that makes it. So nothing kept is ever out of date, and what is not asked for any more
gives way to what is newer.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
import structlog

from api import clock
from api.context import AppContext
from api.http.freshness import STORED
from api.limited_process import run_limited
from api.source_code import fingerprint
from api.storage.engine import insert_into
from api.storage.tables import renderings

_WORTH_IT = 0.9  # a document that does not become this much smaller is kept as it is


@dataclass(frozen=True)
class Rendered:
    """A document in the content coding in which it is kept and sent ('': none)."""

    coded: bytes
    coding: str

    @classmethod
    def of(cls, content: bytes) -> Rendered:
        """A document as small as it becomes."""
        smaller = zlib.compress(content, 6)
        return cls(smaller, STORED) if len(smaller) < _WORTH_IT * len(content) else cls(content, "")

    @property
    def content(self) -> bytes:
        """The document itself."""
        return zlib.decompress(self.coded) if self.coding else self.coded


def rendered(
    context: AppContext,
    job_id: str,
    work: Callable[..., bytes],
    given: Callable[[], tuple[str | None, ...]],
    *arguments: Any,
    seconds: float,
) -> Rendered:
    """What `work` makes of a job's result in a limited process, or made of it before. `given` reads what it works from,
    which follows from the job and the `arguments`; these are plain values.

    Raises whatever `work` raises, and LimitReached.
    """
    named = f"{fingerprint()} {job_id} {work.__module__}.{work.__qualname__} {arguments!r}"
    key = hashlib.sha256(named.encode()).hexdigest()
    found = _kept(context, key)
    if found is not None:
        return found
    with context.making.of(key):
        found = _kept(context, key)
        if found is None:
            content: bytes = run_limited(
                work, *given(), *arguments, seconds=seconds, megabytes=context.settings.job_megabytes
            )
            found = Rendered.of(content)
            _keep(context, job_id, key, found)
    return found


def _kept(context: AppContext, key: str) -> Rendered | None:
    with context.storage.reading() as connection:
        row = connection.execute(
            sa.select(renderings.c.content, renderings.c.coding).where(renderings.c.key == key)
        ).first()
    return None if row is None else Rendered(bytes(row.content), row.coding)


def _keep(context: AppContext, job_id: str, key: str, found: Rendered) -> None:
    """Keeps a document in place of the oldest ones where there is too much; what cannot be kept is told in the log."""
    most = context.settings.renderings_megabytes * 2**20
    if len(found.coded) > most:
        return
    row = {
        "key": key,
        "job_id": job_id,
        "content": found.coded,
        "coding": found.coding,
        "bytes": len(found.coded),
        "made_at": clock.now(),
    }
    try:
        with context.storage.writing() as connection:
            connection.execute(insert_into(connection, renderings).values(row).on_conflict_do_nothing())
            _make_room(connection, most)
    except sa.exc.SQLAlchemyError as error:
        structlog.get_logger().warning("rendering_not_kept", job=job_id, error=type(error).__name__)


def _make_room(connection: sa.Connection, most_bytes: int) -> None:
    """Deletes the oldest documents beyond so many bytes in all."""
    whole = connection.scalar(sa.select(sa.func.sum(renderings.c.bytes))) or 0
    oldest_first = sa.select(renderings.c.key, renderings.c.bytes).order_by(renderings.c.made_at)
    going = []
    for row in connection.execute(oldest_first) if whole > most_bytes else ():
        if whole <= most_bytes:
            break
        going.append(row.key)
        whole -= row.bytes
    if going:
        connection.execute(sa.delete(renderings).where(renderings.c.key.in_(going)))
