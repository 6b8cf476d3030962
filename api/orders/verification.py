"""Whether every issued order is what was issued: the database against its own hashes, and against its anchor.

A revision's row, its documents, the plan and the survey behind it are hashed again. The anchor, which the database's
users cannot sign, says which revisions there must be: so one that was deleted, and a database that was put back to an
earlier day, are told apart by the log of changes, which shows the revision in the first case and not in the second.

One module although long: all that counts as proof is to be read in one place.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa

from api.orders import repository
from api.orders.anchor import Anchor, Anchored, Knowledge
from api.orders.chain import FIRST, commitment, hash_of_revision
from api.orders.findings import Finding, Verified
from api.storage.engine import Storage
from api.storage.guards import dropped_guards
from api.storage.tables import (
    anchors,
    changes,
    issued_documents,
    issued_orders,
    job_results,
    project_versions,
    projects,
    restored,
)

Place = tuple[str, int]  # a project's id and a revision


def verify(
    storage: Storage, anchor: Anchor, project_id: str | None = None, *, documents: bool = True
) -> Verified:
    """Every issued order, or those of one project; the anchor and the database's triggers always. Without `documents`
    what is kept beside a revision's row is not read: its documents, its plan and its survey.

    Nothing is written. Raises UnusableDatabase when the anchor's folder cannot be used, and the database's errors.
    """
    with anchor.locked() as held, storage.snapshot() as connection:
        knowledge = held.read()
        found = list(_of_files(connection, anchor, knowledge))
        found += _of_guards(connection)
        if project_id is None and storage.embedded:
            found += _of_database_file(connection)
        comparing = _Comparison(connection, knowledge, project_id, documents)
        found += comparing.findings()
    known = knowledge.acknowledged
    return Verified(
        tuple(one for one in found if one.fingerprint not in known),
        tuple((one, known[one.fingerprint]) for one in found if one.fingerprint in known),
        comparing.revisions,
        comparing.documents,
    )


def _of_files(connection: sa.Connection, anchor: Anchor, knowledge: Knowledge) -> Iterator[Finding]:
    last = connection.execute(sa.select(anchors).order_by(anchors.c.number.desc()).limit(1)).first()
    if not anchor.exists:
        if last is not None:
            yield Finding(
                "anchor-missing",
                f"The anchor of the issued orders is not at {anchor.path}: it was removed, or"
                " BARRIER_ORDERS_ANCHOR_FILE names"
                " another place than before. Without it nobody can say whether a revision is missing.",
                observed=last.anchor_id,
            )
        return
    if not anchor.has_key:
        yield Finding(
            "key-missing",
            f"The signing key is not at {anchor.key_path}: it was removed, or BARRIER_ORDERS_SIGNING_KEY_FILE"
            " names another"
            " place than before. The anchor's signatures cannot be checked.",
            observed=knowledge.anchor_id,
        )
    if knowledge.faults:
        yield Finding(
            "anchor-altered",
            f"The anchor {anchor.path} was altered: {'; '.join(knowledge.faults[:5])}.",
            observed=hashlib.sha256("\n".join(knowledge.faults).encode()).hexdigest(),
        )
    if last is None or last.anchor_id != knowledge.anchor_id:
        yield Finding(
            "other-anchor",
            f"The anchor {anchor.path} and the database do not belong together: the database is another one,"
            " or as old as"
            " before this anchor was begun (a restored backup).",
            observed=f"{knowledge.anchor_id} {last.anchor_id if last else ''}",
        )


def _of_guards(connection: sa.Connection) -> Iterator[Finding]:
    for table, names in dropped_guards(connection).items():
        were = "was" if len(names) == 1 else "were"
        yield Finding(
            "guards-dropped",
            f"The database no longer refuses to alter rows of {table}: {' and '.join(names)} {were} dropped, switched"
            " off or replaced.",
            subject=table,
            observed=" ".join(names),
        )


def _of_database_file(connection: sa.Connection) -> Iterator[Finding]:
    said = [str(row[0]) for row in connection.exec_driver_sql("PRAGMA quick_check(3)")]
    if said != ["ok"]:
        yield Finding(
            "database-corrupt",
            f"The database file is corrupt: {'; '.join(said)[:200]}. Restore a backup.",
            observed=said[0][:80],
        )


class _Comparison:
    """The issued orders of a database against the anchor's knowledge."""

    def __init__(
        self, connection: sa.Connection, knowledge: Knowledge, project_id: str | None, with_documents: bool
    ) -> None:
        self.connection, self.knowledge, self.project_id = connection, knowledge, project_id
        self.with_documents = with_documents
        self.revisions = self.documents = 0

    def findings(self) -> list[Finding]:
        """All, project by project, revision by revision."""
        query = sa.select(issued_orders).order_by(issued_orders.c.project_id, issued_orders.c.revision)
        if self.project_id is not None:
            query = query.where(issued_orders.c.project_id == self.project_id)
        found: list[Finding] = []
        there: set[Place] = set()
        before: sa.Row[Any] | None = None
        for row in self.connection.execute(query).all():
            if before is not None and before.project_id != row.project_id:
                before = None
            there.add((row.project_id, row.revision))
            self.revisions += 1
            found += self._of_revision(row, before)
            before = row
        for place, known in sorted(self.knowledge.issued.items()):
            if place not in there | self.knowledge.ended.keys() and self.project_id in (None, place[0]):
                found.append(self._missing(place, known))
        return found

    def _of_revision(self, row: sa.Row[Any], before: sa.Row[Any] | None) -> Iterator[Finding]:
        place, named = (row.project_id, row.revision), self._named(row.project_id, row.revision)
        document = _read(row.document)
        own = "" if document is None else hash_of_revision(row.previous_hash, document)
        anchored = self.knowledge.issued.get(place)
        intended = self.knowledge.intended.get(place)
        erased = place in self.knowledge.erased
        if document is None or own != row.hash or not _columns_agree(row, document, erased):
            yield Finding(
                "revision-altered",
                f"{named} was altered: its row in the database is not the one that was hashed when it was issued.",
                *place,
                observed=hashlib.sha256(repr(tuple(row)).encode()).hexdigest(),
            )
            if document is None:
                return
        elif anchored is not None and anchored.hash != row.hash:
            yield Finding(
                "revision-altered",
                f"{named} was rewritten with a hash of its own: it is not the one that the anchor signed.",
                *place,
                observed=row.hash,
            )
        elif anchored is None and (intended is None or intended.hash != row.hash):
            yield Finding(
                "not-anchored",
                f"{named} stands in the database, and the anchor does not know it: it was put there by another way than"
                " issuing, or the anchor was put back to an earlier day.",
                *place,
                observed=row.hash,
            )
        elif row.previous_hash != (before.hash if before else FIRST) and not self._explained(row, before):
            yield Finding(
                "revision-altered",
                f"{named} does not follow the revision before it: one of the two was exchanged.",
                *place,
                observed=row.previous_hash,
            )
        yield from self._of_erasures(row, document, named)
        if self.with_documents:
            yield from self._of_documents(row, document, named, anchored)
            yield from self._of_survey(row, document, named)

    def _of_erasures(self, row: sa.Row[Any], document: dict[str, Any], named: str) -> Iterator[Finding]:
        place = (row.project_id, row.revision)
        ended, erased = self.knowledge.ended.get(place), self.knowledge.erased.get(place)
        if ended is not None:
            yield Finding(
                "erasure-undone",
                f"{named} was deleted on {ended[:10]}, when its retention had ended, and stands there again (a restored"
                " backup): delete it again with `barrier-orders retention`.",
                *place,
                subject="ended",
            )
        if erased is not None and (row.issuer_salt or row.issued_by == document.get("issued_by")):
            yield Finding(
                "erasure-undone",
                f"The name of who issued {_small(named)} was erased on {erased[:10]} and stands there again (a restored"
                " backup): erase it again with `barrier-orders erase`.",
                *place,
                subject="erased",
            )

    def _explained(self, row: sa.Row[Any], before: sa.Row[Any] | None) -> bool:
        """Whether a revision that is missing before this one explains that it does not follow."""
        last = before.revision if before else 0
        return any((row.project_id, n) in self.knowledge.issued for n in range(last + 1, row.revision))

    def _of_documents(
        self, row: sa.Row[Any], document: dict[str, Any], named: str, anchored: Anchored | None
    ) -> Iterator[Finding]:
        place = (row.project_id, row.revision)
        hashed = {one["name"]: one["sha256"] for one in document.get("documents", ())}
        if not hashed and anchored is not None and anchored.plan_hash:  # issued before documents were kept
            hashed = {repository.plan_document_of(document): anchored.plan_hash}
        for name, demanded in hashed.items():
            self.documents += 1
            content = self.connection.scalar(
                sa.select(issued_documents.c.content).where(
                    issued_documents.c.project_id == row.project_id,
                    issued_documents.c.revision == row.revision,
                    issued_documents.c.name == name,
                )
            )
            if content is None:
                yield Finding(
                    "document-missing", f"{name} of {_small(named)} is missing.", *place, subject=name
                )
            elif (seen := _hash_of_kept(content)) != demanded:
                yield Finding(
                    "document-altered",
                    f"{name} of {_small(named)} was altered: its bytes are not those that were issued.",
                    *place,
                    subject=name,
                    observed=seen,
                )
        demanded_plan = hashed.get(repository.plan_document_of(document))
        if demanded_plan is None:
            return
        made = self.connection.scalar(
            sa.select(job_results.c.document).where(job_results.c.job_id == row.plan_id)
        )
        seen = "" if made is None else _hash_of_kept(made)
        if seen != demanded_plan:
            yield Finding(
                "plan-altered",
                f"The plan that {_small(named)} was issued from was {'altered' if seen else 'removed'} since;"
                " the documents that"
                " are kept with the revision are served as they were issued.",
                *place,
                observed=seen,
            )

    def _of_survey(self, row: sa.Row[Any], document: dict[str, Any], named: str) -> Iterator[Finding]:
        demanded = document.get("survey_sha256")
        if demanded is None:
            return
        survey = self.connection.scalar(
            sa.select(project_versions.c.document).where(
                project_versions.c.project_id == row.project_id,
                project_versions.c.version == document["project_version"],
            )
        )
        seen = "" if survey is None else _hash_of_kept(survey)
        if seen != demanded:
            yield Finding(
                "survey-altered",
                f"The survey (version {document['project_version']}) that {_small(named)} was issued from was"
                " altered since.",
                row.project_id,
                row.revision,
                observed=seen,
            )

    def _missing(self, place: Place, known: Anchored) -> Finding:
        named = self._named(*place)
        if self._was_deleted(place, known):
            return Finding(
                "revision-missing",
                f"{named} is missing: it was issued on {known.at[:10]} and deleted from the database since."
                " Its number is not"
                " given again.",
                *place,
                observed=known.hash,
            )
        return Finding(
            "older-backup",
            f"{named} is missing: it was issued on {known.at[:10]}, and the database is older than that, a"
            " restored backup. Its"
            " number is not given again.",
            *place,
            observed=known.hash,
        )

    def _was_deleted(self, place: Place, known: Anchored) -> bool:
        """Whether the log of changes shows that the database has lived through the issuing of a revision: its line is
        there, or was cut out from among later ones."""
        subject = f"order revision {place[1]}"
        mine = sa.select(changes.c.number).where(
            changes.c.project_id == place[0], changes.c.subject == subject
        )
        if self.connection.execute(mine.limit(1)).first() is not None:
            return True
        last = self.connection.scalar(sa.select(sa.func.max(changes.c.number))) or 0
        there = self.connection.scalar(
            sa.select(changes.c.number).where(changes.c.number == known.log_number)
        )
        return bool(known.log_number) and there is None and last > known.log_number

    def _named(self, project_id: str, revision: int) -> str:
        name = self.connection.scalar(sa.select(projects.c.name).where(projects.c.id == project_id))
        return (
            f"Revision {revision} of {name!r} (project {project_id})"
            if name
            else (f"Revision {revision} of project {project_id}")
        )


def _small(named: str) -> str:
    return named[:1].lower() + named[1:]


def _read(kept: bytes) -> dict[str, Any] | None:
    try:
        found = json.loads(restored(kept))
    except (zlib.error, ValueError):
        return None
    return found if isinstance(found, dict) else None


def _hash_of_kept(content: bytes) -> str:
    """The SHA-256 of what a kept document unpacks to; that of the kept bytes where it no longer does."""
    try:
        return hashlib.sha256(restored(content)).hexdigest()
    except zlib.error:
        return f"unreadable {hashlib.sha256(content).hexdigest()}"


def _columns_agree(row: sa.Row[Any], document: dict[str, Any], erased: bool) -> bool:
    """Whether a row's columns say what its document says; of an `erased` issuer nothing is left to compare."""
    return (row.project_id, row.revision, row.issued_at, row.plan_id) == (
        document.get("project_id"),
        document.get("revision"),
        document.get("issued_at"),
        document.get("refit_id") or document.get("plan_id"),
    ) and (erased or _issuer_agrees(row, document))


def _issuer_agrees(row: sa.Row[Any], document: dict[str, Any]) -> bool:
    hashed = document.get("issuer_sha256")
    if hashed is None:
        return bool(row.issued_by == document.get("issued_by"))
    return bool(row.issuer_salt) and commitment(row.issued_by, row.issuer_salt) == hashed
