"""Gaps measured at the slab edge into the next version of the survey, each sending once.

The version, what was sent and the event that a level is measured are kept in one transaction. Who else changes the
survey meanwhile loses nothing: the readings are put into the newest version, whichever that is.
"""

from __future__ import annotations

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.events.reading import SentEvent
from api.events.repository import add_events, ids_of_events
from api.http.problem_details import Problem, faulty
from api.projects.reading import Unusable
from api.projects.service import add_version, document_of_version, find_project, lock_project
from api.projects.uploads import limited
from api.readings import repository
from api.readings.merging import MergedSurvey, with_readings
from api.readings.schemas import KeptReadings, SentReadings, kept_readings
from optimiser.model.record import Event

_TRIES = 5  # against others who change the survey at the same time


def keep_readings(
    context: AppContext, caller: Caller, project_id: str, sent: SentReadings
) -> tuple[KeptReadings, bool]:
    """Keeps readings and the version of the survey that they make: as they are kept, and whether they are new.

    Raises Problem 404; 409 where others are kept under this id; 412 when the survey does not stand still; 413 beyond
    the limits of an upload; 422 for readings that have no place in the survey, with every fault.
    """
    document = sent.model_dump_json(exclude_defaults=True)
    for last in (*(False,) * (_TRIES - 1), True):
        with context.storage.reading() as connection:
            project = find_project(connection, caller, project_id)
            known = _known(connection, project_id, sent)
            if known is not None:
                return known, False
            survey = document_of_version(connection, project_id, project.version).decode()
        merged = _merged(context, survey, document)
        try:
            with context.storage.writing() as connection:
                lock_project(connection, project_id)
                known = _known(connection, project_id, sent)
                if known is not None:
                    return known, False
                version: int = project.version
                if any(reading.accessible for reading in sent.readings):
                    version = add_version(connection, caller, project_id, version, merged.project)
                    _add_measured(connection, caller, project_id, sent, merged.measured, version)
                repository.add_readings(
                    connection, caller.company_id, project_id, sent.id, document, version, caller.who
                )
                kept = repository.readings_with_id(connection, project_id, sent.id)
            return kept_readings(kept), True
        except Problem as problem:
            if problem.status != 412 or last:
                raise
    raise AssertionError("the last try returns or raises")


def all_readings(context: AppContext, caller: Caller, project_id: str) -> list[KeptReadings]:
    """Everything that was sent of a project, in the order in which it was received. Raises Problem 404."""
    with context.storage.reading() as connection:
        find_project(connection, caller, project_id)
        return [kept_readings(row) for row in repository.readings_of(connection, project_id)]


def _known(connection: sa.Connection, project_id: str, sent: SentReadings) -> KeptReadings | None:
    row = repository.readings_with_id(connection, project_id, sent.id)
    if row is None:
        return None
    if SentReadings.model_validate_json(row.document) != sent:
        raise Problem(
            409,
            "other-readings",
            f"Other readings are kept as {sent.id} already: give new ones an id of their own.",
        )
    return kept_readings(row)


def _merged(context: AppContext, survey: str, document: str) -> MergedSurvey:
    try:
        return limited(context, with_readings, survey, document)
    except Unusable as error:
        raise faulty("The readings have", error.faults, error.more, "none is kept") from None


def _add_measured(
    connection: sa.Connection,
    caller: Caller,
    project_id: str,
    sent: SentReadings,
    levels: tuple[str, ...],
    version: int,
) -> None:
    """Puts on record which levels are wholly measured with these readings."""
    known = ids_of_events(connection, project_id)
    events = []
    for place, level in enumerate(levels):
        event_id = f"survey-{version}-measured-{place + 1}"
        event = Event(
            at=sent.at, event="measured", level=level, note=f"survey {version}", id=event_id, by=sent.by
        )
        if event_id not in known:
            events.append(SentEvent(event_id, event.model_dump_json(exclude_defaults=True), place))
    add_events(connection, caller.company_id, project_id, events, caller.who)
