"""Excerpts of what a job made, by their names: so that nobody reads all of it who needs a little.

They are made of the result by this very program, and are no part of the record: those of another program are taken for
none, and whoever deletes them loses nothing but the time to make them again.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence

import sqlalchemy as sa

from api.source_code import fingerprint
from api.storage.engine import insert_into
from api.storage.tables import compressed, plan_excerpts, restored


def packed(text: bytes) -> str:
    """An excerpt as it crosses processes."""
    return base64.b64encode(compressed(text)).decode()


def replace_excerpts(connection: sa.Connection, job_id: str, packed_excerpts: Mapping[str, str]) -> None:
    """Keeps a job's excerpts in place of those that it had."""
    connection.execute(sa.delete(plan_excerpts).where(plan_excerpts.c.job_id == job_id))
    rows = [
        {"job_id": job_id, "name": name, "program": fingerprint(), "document": base64.b64decode(text)}
        for name, text in packed_excerpts.items()
    ]
    if rows:
        connection.execute(sa.insert(plan_excerpts), rows)


def keep_excerpt(connection: sa.Connection, job_id: str, name: str, text: bytes) -> None:
    """Keeps one more excerpt; one that another request kept meanwhile stays."""
    row = {"job_id": job_id, "name": name, "program": fingerprint(), "document": compressed(text)}
    connection.execute(insert_into(connection, plan_excerpts).values(row).on_conflict_do_nothing())


def excerpt_of(connection: sa.Connection, job_id: str, name: str) -> bytes | None:
    """An excerpt that this program made; None where there is none."""
    document = connection.scalar(
        sa.select(plan_excerpts.c.document).where(
            plan_excerpts.c.job_id == job_id,
            plan_excerpts.c.name == name,
            plan_excerpts.c.program == fingerprint(),
        )
    )
    return None if document is None else restored(document)


def excerpts_named(connection: sa.Connection, job_id: str, names: Sequence[str]) -> list[bytes]:
    """Those of some excerpts that this program made, in the order of their names."""
    rows = connection.execute(
        sa.select(plan_excerpts.c.name, plan_excerpts.c.document).where(
            plan_excerpts.c.job_id == job_id,
            plan_excerpts.c.name.in_(names),
            plan_excerpts.c.program == fingerprint(),
        )
    )
    found = {row.name: restored(row.document) for row in rows}
    return [found[name] for name in names if name in found]
