"""Beginning a database's anchor, going on from one, and acknowledging what a verification found."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

import sqlalchemy as sa
import structlog

from api import clock
from api.changes.repository import log_change
from api.orders import repository
from api.orders.anchor import Anchor, Anchored, HeldAnchor, Knowledge, anchor_of
from api.orders.findings import OF_THE_FILES, Finding
from api.orders.verification import verify
from api.settings import Settings, sqlite_path
from api.storage.engine import Storage
from api.storage.guards import dropped_guards, put_guards_back
from api.storage.tables import anchors, changes, companies, issued_orders, projects
from api.storage.trouble import refuse_an_emptied_file


def software() -> str:
    """The software and its version, as issued orders and anchors hold it."""
    return f"barrier-orders {version('barrier-orders')}"


def opened(settings: Settings) -> Storage:
    """The database that the settings name, brought to its newest form, with its anchor.

    Raises UnusableDatabase, one sentence, where it or its anchor cannot be used.
    """
    anchor = anchor_of(settings)
    if settings.embedded:
        refuse_an_emptied_file(sqlite_path(settings.database_url), anchor.path)
    storage = Storage(settings.database_url)
    storage.upgrade()
    attend(storage, anchor)
    return storage


def attend(storage: Storage, anchor: Anchor) -> None:
    """Sees that the database has its anchor: begins one where neither knows of the other, and completes what a crash
    left half written. What does not belong together is left as it is, for `verify` to find.

    Raises UnusableDatabase when the anchor or its key cannot be written.
    """
    with storage.writing() as connection, anchor.locked() as held:
        known = held.read()
        begun = connection.scalar(sa.select(sa.func.max(anchors.c.number))) is not None
        if not begun and not anchor.exists:
            _begin(connection, held, Knowledge())
        elif not begun and connection.scalar(sa.select(projects.c.id).limit(1)) is None:
            if known.issued:  # a new database: no number that the old one gave can be given here
                structlog.get_logger().warning(
                    "anchor_of_another_database_moved_aside", anchor=str(anchor.path)
                )
                _begin(connection, held, Knowledge(), {"why": "a new database"})
            else:
                _note(connection, known.anchor_id)
        elif not begun and _knows_only_what_is_there(connection, known):
            _note(connection, known.anchor_id)
        elif begun and anchor.exists and anchor.has_key and not known.faults:
            _complete(connection, held, known)


def acknowledge(storage: Storage, anchor: Anchor, who: str) -> tuple[Finding, ...]:
    """Takes every finding of now for known, so that orders are issued again: it is written into the anchor, and into
    the log of each project that it is about. Triggers that were dropped are made again; an anchor or a key that is
    missing, altered or another's is begun anew with all that is known. The findings that were acknowledged.
    """
    found = verify(storage, anchor).findings
    if not found:
        return ()
    with storage.writing() as connection, anchor.locked() as held:
        known = held.read()
        if any(one.kind in OF_THE_FILES for one in found):
            _begin(connection, held, known)
            _carry_acknowledgements(held, known)
        for one in found:
            if one.kind == "not-anchored" and one.project_id is not None and one.revision is not None:
                place = (one.project_id, one.revision)
                _adopt(held, place, _as_found(connection, place))
        put_guards_back(connection, dropped_guards(connection))
        held.add(
            "acknowledged",
            who=who,
            findings=[one.fingerprint for one in found],
            says=[one.says for one in found],
        )
        _log(connection, found, who)
    return found


def record_restored(storage: Storage, anchor: Anchor, made_at: str, sha256: str) -> None:
    """Writes into the anchor that a backup was put in place."""
    with anchor.locked() as held:
        held.add("restored", backup_made_at=made_at, backup_sha256=sha256)


def begin_from(storage: Storage, anchor: Anchor, known: Knowledge) -> None:
    """A new anchor that carries over what another one knew; its signatures were not checked: its key is not here."""
    with storage.writing() as connection, anchor.locked() as held:
        _begin(connection, held, known, {"anchor_id": known.anchor_id, "signatures": "not checked"})
        _carry_acknowledgements(held, known)


def _carry_acknowledgements(held: HeldAnchor, known: Knowledge) -> None:
    for who in sorted(set(known.acknowledged.values())):
        mine = sorted(one for one, by in known.acknowledged.items() if by == who)
        held.add("acknowledged", who=who.rpartition(" on ")[0], findings=mine, says=[])


def _begin(
    connection: sa.Connection,
    held: HeldAnchor,
    known: Knowledge,
    goes_on_from: dict[str, Any] | None = None,
) -> None:
    if not held.anchor.has_key:
        held.anchor.make_key()
    anchor_id = held.begin(software(), goes_on_from)
    _note(connection, anchor_id)
    places = connection.execute(
        sa.select(issued_orders.c.project_id, issued_orders.c.revision).order_by(
            issued_orders.c.project_id, issued_orders.c.revision
        )
    )
    there = {(row.project_id, row.revision): None for row in places}
    for place in (*there, *(one for one in known.issued if one not in there)):
        _adopt(held, place, known.issued.get(place) or _as_found(connection, place))
    for kind, taken_away in (("erased", known.erased), ("ended", known.ended)):
        for project_id, revision in taken_away:
            held.add(kind, project_id=project_id, revision=revision)
    for project_id, revision in sorted(known.doubtful - {*there, *known.issued}):
        held.add("doubtful", project_id=project_id, revision=revision)


def _note(connection: sa.Connection, anchor_id: str) -> None:
    connection.execute(sa.insert(anchors).values(anchor_id=anchor_id, begun_at=clock.now()))


def _adopt(held: HeldAnchor, place: tuple[str, int], as_found: Anchored) -> None:
    held.add(
        "adopted",
        project_id=place[0],
        revision=place[1],
        hash=as_found.hash,
        log_number=as_found.log_number,
        plan_hash=as_found.plan_hash,
    )


def _as_found(connection: sa.Connection, place: tuple[str, int]) -> Anchored:
    """A revision as the database holds it."""
    row = connection.execute(
        sa.select(issued_orders).where(
            issued_orders.c.project_id == place[0], issued_orders.c.revision == place[1]
        )
    ).one()
    logged = connection.scalar(
        sa.select(changes.c.number).where(
            changes.c.project_id == place[0], changes.c.subject == f"order revision {place[1]}"
        )
    )
    plan = repository.kept_plan(connection, row.plan_id)
    return Anchored(row.hash, row.issued_at, logged or 0, plan.content_hash if plan else "")


def _knows_only_what_is_there(connection: sa.Connection, known: Knowledge) -> bool:
    rows = connection.execute(
        sa.select(issued_orders.c.project_id, issued_orders.c.revision, issued_orders.c.hash)
    )
    there = {(row.project_id, row.revision): row.hash for row in rows}
    demanded = {place: one.hash for place, one in known.issued.items() if place not in known.ended}
    return not known.faults and all(there.get(place) == one for place, one in demanded.items())


def _complete(connection: sa.Connection, held: HeldAnchor, known: Knowledge) -> None:
    """Confirms the intentions whose revisions were committed before a crash."""
    for (project_id, revision), intended in known.intended.items():
        if (project_id, revision) in known.issued:
            continue
        there = connection.scalar(
            sa.select(issued_orders.c.hash).where(
                issued_orders.c.project_id == project_id, issued_orders.c.revision == revision
            )
        )
        if there == intended.hash:
            held.add(
                "issued",
                project_id=project_id,
                revision=revision,
                hash=intended.hash,
                log_number=intended.log_number,
            )


def _log(connection: sa.Connection, found: tuple[Finding, ...], who: str) -> None:
    """A line for each finding in the log of its project, or of the first company where it is about none."""
    first = connection.scalar(sa.select(companies.c.id).order_by(companies.c.created_at).limit(1))
    for one in found:
        company = first
        if one.project_id is not None:
            company = (
                connection.scalar(sa.select(projects.c.company_id).where(projects.c.id == one.project_id))
                or first
            )
        if company is not None:
            subject = f"order revision {one.revision}, {one.kind}" if one.revision else f"orders, {one.kind}"
            log_change(connection, company, one.project_id, subject[:80], "finding acknowledged", who[:200])
