"""Issuing orders under a project's next revision number, and finding what was issued."""

from __future__ import annotations

import hashlib
import secrets
import zlib
from collections.abc import Callable
from contextlib import ExitStack, suppress
from typing import Any

import sqlalchemy as sa

from api import clock
from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.http.problem_details import Problem
from api.jobs.model import Job
from api.orders import repository
from api.orders.anchor import Anchor, anchor_of
from api.orders.anchoring import software
from api.orders.chain import FIRST, Issued, commitment, hash_of_revision, hashed_part, is_intact
from api.orders.checks import broken_chain, refuse_when_in_doubt
from api.orders.dating import refuse_a_wrong_clock
from api.orders.difference import Because, difference
from api.orders.putting import NOTHING_KNOWN, Known, put_on_record
from api.orders.repository import KeptDocument
from api.projects.service import document_of_version, find_project, lock_project
from api.storage.tables import restored
from api.storage.trouble import UnusableDatabase

_TRIES = 20  # others may issue orders of the same project while the documents are made

# Makes the documents of a revision from the project's issued orders, the first one first; the last is the one that is
# about to be issued, without its documents and hashes.
Rendering = Callable[[tuple[Issued, ...]], tuple[KeptDocument, ...]]


def issue(
    context: AppContext,
    caller: Caller,
    job: Job,
    order: dict[str, Any],
    documents: Rendering,
    on_top_of: str | None = None,
    after_revision: int | None = None,
    because: Because | None = None,
    plan_knew: Known = NOTHING_KNOWN,
) -> tuple[Issued, bool]:
    """Freezes the order of a plan as the project's next revision, or that of a refit `on_top_of` its plan's, and puts
    what it orders on the record beyond what the `plan_knew` of. `because` says why quantities change.

    Its `documents` are made once, outside the transaction, and kept byte for byte; the revision's hash covers
    theirs, the plan's and the survey's. The revision, and whether it is new: what is issued already stays as it is.

    Raises Problem 409 when the plan's order is not the last that was issued, when another revision follows on
    `after_revision` already (0: on none; None: any may), or what was issued is in doubt; 503 by a wrong clock, or
    beside too many others who issue.
    """
    anchor = anchor_of(context.settings)
    with context.storage.reading() as connection:
        known = repository.issued_from(connection, caller.company_id, job.id)
        if known is None:
            _last(connection, job, on_top_of, after_revision)
        newest = newest_revision(connection, job.project_id)
    if known is not None:
        return with_successor(known, newest), False
    refuse_when_in_doubt(context.storage, anchor, job.project_id)
    for _ in range(_TRIES):
        with context.storage.reading() as connection:
            last = _last(connection, job, on_top_of, after_revision)
            refuse_a_wrong_clock(connection, last)
            before = repository.issued_orders_of(connection, caller.company_id, job.project_id)
            number = _next_number(anchor, job.project_id, last)
            draft = _draft(connection, caller, job, order, number, last, on_top_of, because)
        made = documents((*before, draft))
        with ExitStack() as until_anchored:
            with context.storage.writing() as connection:
                lock_project(connection, job.project_id)
                known = repository.issued_from(connection, caller.company_id, job.id)
                if known is not None:
                    return with_successor(known, newest_revision(connection, job.project_id)), False
                last = _last(connection, job, on_top_of, after_revision)
                held = until_anchored.enter_context(anchor.locked())
                if _next_number(anchor, job.project_id, last) != number:
                    continue  # another was issued while these documents were made: theirs is the number
                issued = _with_documents(draft, made, last)
                put_on_record(connection, caller, last, issued, plan_knew)
                repository.add_issued(connection, caller.company_id, job.id, issued)
                repository.add_documents(connection, job.project_id, number, made)
                log_number = log_change(
                    connection,
                    caller.company_id,
                    job.project_id,
                    f"order revision {number}",
                    "issued",
                    caller.who,
                )
                facts = {
                    "project_id": job.project_id,
                    "revision": number,
                    "hash": issued["hash"],
                    "log_number": log_number,
                }
                held.add("intended", **facts)
            with suppress(UnusableDatabase):  # it is issued: what is missing here is added at the next start
                held.add("issued", **facts)
        return issued, True
    raise Problem(
        503, "busy", "Others are issuing orders of this project. Try again.", headers={"Retry-After": "5"}
    )


def _last(
    connection: sa.Connection, job: Job, on_top_of: str | None, after_revision: int | None
) -> Issued | None:
    """The project's last revision, when the job's may follow on it. Raises Problem 409."""
    last, last_job = repository.last_issued(connection, job.project_id) or (None, None)
    if on_top_of is not None and last_job != on_top_of:
        raise Problem(
            409,
            "not-the-last-issued",
            f"A refit is ordered on top of its plan's order, and that of plan {on_top_of} is not the last that was"
            " issued. Issue it first, or refit the plan that was issued last.",
        )
    if after_revision is not None and (0 if last is None else last["revision"]) != after_revision:
        raise Problem(
            409, "not-the-last-issued", "Another revision was issued meanwhile. Look at it, then issue again."
        )
    return last


def _next_number(anchor: Anchor, project_id: str, last: Issued | None) -> int:
    """The number after the highest that was ever given: the anchor knows those that the database has lost."""
    return max(last["revision"] if last else 0, anchor.read().highest(project_id)) + 1


def _draft(
    connection: sa.Connection,
    caller: Caller,
    job: Job,
    order: dict[str, Any],
    number: int,
    last: Issued | None,
    on_top_of: str | None,
    because: Because | None,
) -> Issued:
    """The revision as it is issued on top of the last one, without its documents and hashes."""
    lost = list(range((last["revision"] if last else 0) + 1, number))
    survey = document_of_version(connection, job.project_id, job.project_version)
    salt = secrets.token_hex(32)
    return {
        "project_id": job.project_id,
        "revision": number,
        **({"numbers_lost": lost} if lost else {}),
        "plan_id": on_top_of or job.id,
        **({"refit_id": job.id} if on_top_of else {}),
        "project_version": job.project_version,
        "survey_sha256": hashlib.sha256(survey).hexdigest(),
        "issued_at": clock.now(),
        "issuer": caller.who,
        "issuer_salt": salt,
        "issuer_sha256": commitment(caller.who, salt),
        "software": software(),
        "order": order,
        "difference": difference(None if last is None else last["order"], order, because),
    }


def _with_documents(draft: Issued, documents: tuple[KeptDocument, ...], last: Issued | None) -> Issued:
    """The revision with its documents' hashes, and its own on top of the last one's."""
    kept = [
        {"name": one.name, "media_type": one.media_type, "bytes": len(one.content), "sha256": one.sha256}
        for one in documents
    ]
    document = {**draft, "documents": kept}
    previous_hash = FIRST if last is None else last["hash"]
    return {
        **document,
        "previous_hash": previous_hash,
        "hash": hash_of_revision(previous_hash, hashed_part(document)),
    }


def document_as_issued(
    connection: sa.Connection, caller: Caller, job_id: str, name: str
) -> KeptDocument | None:
    """A document of the revision that the caller's plan or refit was issued as, in the very bytes; None where it was
    not issued, or has no such document.

    Raises Problem 409 when the bytes are no longer those that were issued.
    """
    issued = repository.issued_from(connection, caller.company_id, job_id)
    row = None if issued is None else repository.kept_document(connection, job_id, name)
    if issued is None or row is None:
        return None
    hashed = {one["name"]: one["sha256"] for one in issued.get("documents", ())}
    try:
        kept = KeptDocument(row.name, row.media_type, restored(row.content))
    except zlib.error:
        kept = None
    if kept is None or kept.sha256 != hashed.get(name, row.content_hash):
        raise Problem(
            409,
            "not-what-was-issued",
            f"{name} of revision {issued['revision']} was altered in the database since it was issued, and is"
            " not given out.",
        )
    return kept


def document_of_revision(
    context: AppContext, caller: Caller, project_id: str, revision: int, name: str
) -> KeptDocument:
    """A document of a revision, in the very bytes that were issued. Raises Problem 404, or 409 when they were
    altered."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        issued = repository.issued_order(connection, caller.company_id, project_id, revision)
        if issued is not None:
            job_id = issued.get("refit_id") or issued["plan_id"]
            kept = document_as_issued(connection, caller, job_id, name)
            if kept is not None:
                return kept
    raise Problem(
        404, "not-found", f"Revision {revision} of project {project_id} has no document {name[:80]}."
    )


def with_successor(issued: Issued, newest: int) -> Issued:
    """An issued order with the newest revision as `superseded_by`, or None where it is that itself. It is no part of
    what was issued: no hash covers it."""
    return {**issued, "superseded_by": newest if newest > issued["revision"] else None}


def last_issued(connection: sa.Connection, project_id: str) -> Issued | None:
    """A project's last revision."""
    found = repository.last_issued(connection, project_id)
    return None if found is None else found[0]


def find_issued(connection: sa.Connection, caller: Caller, job_id: str) -> Issued | None:
    """The revision that the caller's plan or refit was issued as."""
    return repository.issued_from(connection, caller.company_id, job_id)


def issued_until(connection: sa.Connection, caller: Caller, issued: Issued) -> tuple[Issued, ...]:
    """The issued orders of a project up to one of them, the first one first."""
    found = repository.issued_orders_of(connection, caller.company_id, issued["project_id"])
    return tuple(one for one in found if one["revision"] <= issued["revision"])


def newest_revision(connection: sa.Connection, project_id: str) -> int:
    """The number of a project's last revision; 0 while nothing is issued."""
    last = last_issued(connection, project_id)
    return 0 if last is None else last["revision"]


def issued_from(context: AppContext, caller: Caller, job_id: str) -> Issued | None:
    """The revision that the caller's plan or refit was issued as."""
    with context.storage.reading() as connection:
        return find_issued(connection, caller, job_id)


def issued_and_newest(context: AppContext, caller: Caller, job: Job) -> tuple[Issued | None, int]:
    """The revision that the caller's plan or refit was issued as, and its project's last; 0 while nothing is issued."""
    with context.storage.reading() as connection:
        return find_issued(connection, caller, job.id), newest_revision(connection, job.project_id)


def issued_orders(context: AppContext, caller: Caller, project_id: str) -> list[Issued]:
    """The project's issued orders, first to last. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return repository.issued_orders_of(connection, caller.company_id, project_id)


def doubts_about(context: AppContext, issued: list[Issued], project_id: str) -> list[str]:
    """What a project's issued orders no longer are, in sentences: their hashes are computed again, and the anchor
    says which there must be. [] where they are what was issued."""
    found = broken_chain(context.storage, anchor_of(context.settings), project_id)
    if not found and not is_intact(issued):
        return ["An issued order does not follow on the one before it."]
    return found


def issued_order(context: AppContext, caller: Caller, project_id: str, revision: int) -> Issued:
    """A revision of the project's order, with the one that superseded it. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        issued = repository.issued_order(connection, caller.company_id, project_id, revision)
        newest = newest_revision(connection, project_id)
    if issued is None:
        raise Problem(404, "not-found", f"Project {project_id} has no issued order {revision}.")
    return with_successor(issued, newest)
