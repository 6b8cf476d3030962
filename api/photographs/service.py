"""Keeping photographs, each once by its sender's own id, and finding them."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from typing import Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.http.problem_details import Problem
from api.photographs import repository
from api.photographs.schemas import About, Photograph, photograph
from api.projects.service import find_project, lock_project

LARGEST_BYTES = 8 * 2**20
MOST_PICTURES = 60  # read at a time
MEDIA_TYPES = ("image/jpeg", "image/png", "image/webp")


def media_type_of(content: bytes) -> str | None:
    """What a picture's first bytes say it is: one of MEDIA_TYPES, or None."""
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return "image/webp"
    return None


def keep_photograph(
    context: AppContext, caller: Caller, project_id: str, photograph_id: str, about: About, content: bytes
) -> tuple[Photograph, bool]:
    """Keeps a photograph: as it is kept, and whether it is new.

    Raises Problem 404; 413 for one that is too large; 415 for what is no picture; 409 where another picture, or one of
    something else, has this id.
    """
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
    if len(content) > LARGEST_BYTES:
        raise Problem(
            413,
            "content-too-large",
            f"A photograph may have {LARGEST_BYTES // 2**20} MB; this one has {len(content) / 2**20:.1f} MB. Send a"
            " smaller one.",
        )
    media_type = media_type_of(content)
    if media_type is None:
        raise Problem(
            415,
            "unsupported-media-type",
            f"A photograph comes as {', '.join(MEDIA_TYPES)}; this is none of them.",
        )
    text, content_hash = about.model_dump_json(exclude_defaults=True), hashlib.sha256(content).hexdigest()
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        there = repository.photograph_with_id(connection, project_id, photograph_id)
        if there is not None:
            if (there.content_hash, About.model_validate_json(there.about)) != (content_hash, about):
                raise Problem(
                    409,
                    "another-photograph",
                    f"Photograph {photograph_id} is kept already and is another one, or of something else: give a new"
                    " photograph an id of its own.",
                )
            return photograph(there), False
        repository.add_photograph(
            connection,
            caller.company_id,
            project_id,
            photograph_id,
            text,
            media_type,
            content,
            content_hash,
            caller.who,
        )
        log_change(connection, caller.company_id, project_id, "photographs", "photograph kept", caller.who)
        kept = repository.photograph_with_id(connection, project_id, photograph_id)
    return photograph(kept), True


def all_photographs(context: AppContext, caller: Caller, project_id: str) -> list[Photograph]:
    """A project's photographs in the order in which they were received. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return [photograph(row) for row in repository.photographs_of(connection, project_id)]


def photographs_as_json(connection: sa.Connection, project_id: str) -> list[dict[str, Any]]:
    """A project's photographs as plain values, without their pictures."""
    rows = repository.photographs_of(connection, project_id)
    return [photograph(row).model_dump(mode="json") for row in rows]


def pictures_of(
    connection: sa.Connection, project_id: str, pieces: Collection[str], what: Collection[str]
) -> dict[str, bytes]:
    """The first pictures of some pieces and of some kinds, by their ids: at most MOST_PICTURES."""
    found: dict[str, bytes] = {}
    for row in repository.photographs_of(connection, project_id):
        about = About.model_validate_json(row.about)
        if about.what in what and about.piece in pieces and len(found) < MOST_PICTURES:
            whole = repository.photograph_with_id(
                connection, project_id, row.photograph_id, with_content=True
            )
            found[row.photograph_id] = bytes(whole.content) if whole is not None else b""
    return found


def picture(context: AppContext, caller: Caller, project_id: str, photograph_id: str) -> tuple[bytes, str]:
    """A photograph's picture and its media type. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        row = repository.photograph_with_id(connection, project_id, photograph_id, with_content=True)
    if row is None:
        raise Problem(404, "not-found", f"There is no photograph {photograph_id[:60]}.")
    return bytes(row.content), row.media_type
