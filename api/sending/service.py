"""Adding events to the record of a project's job.

Sending an event twice counts once, by the sender's own id. What is on record is never altered: a mistake is taken back
by an event of its own. Levels and products must be the survey's. Pieces and boards that the newest plan does not have
are told, not refused: they may be of an earlier plan, and what happened must not be lost on a telephone.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence

from api.accounts.service import Caller
from api.changes.repository import log_change
from api.context import AppContext
from api.events import repository
from api.events.reading import MOST_EVENTS, SentEvent, read_events
from api.http.problem_details import Fault, Problem, faulty
from api.orders.on_record import OWN_IDS
from api.orders.putting import put_beside
from api.projects.reading import Unreadable, Unusable
from api.projects.service import document_of_version, find_project, lock_project
from api.projects.uploads import as_problem, limited
from api.sending.plan_in_force import names_of_newest_plan
from api.sending.schemas import SentEvents
from optimiser.tables.text import counted

MOST_WARNINGS = 200


def send_events(context: AppContext, caller: Caller, project_id: str, body: bytes) -> SentEvents:
    """Adds the events of a JSON list to the project's record: all of them, or none where any has a fault.

    Raises Problem 404; 400 and 422 for what cannot be used, with every fault; 413 for more than is read at a time.
    """
    with context.storage.reading() as connection:
        project = find_project(connection, caller, project_id)
        known = repository.ids_of_events(connection, project_id)
        survey = document_of_version(connection, project_id, project.version).decode()
    try:
        sent = limited(context, read_events, body, known, survey)
    except Unreadable as error:
        raise as_problem(error) from None
    except Unusable as error:
        raise _refused(error.faults, error.more) from None
    if len(sent) > MOST_EVENTS:
        raise Problem(413, "content-too-large", f"Send at most {MOST_EVENTS:,} events at a time.")
    added = _added(context, caller, project_id, sent)
    warnings = _warnings(context, caller, project_id, [event for event in sent if event.id not in known])
    return added.model_copy(update={"warnings": [*warnings, *added.warnings][:MOST_WARNINGS]})


def _added(context: AppContext, caller: Caller, project_id: str, sent: list[SentEvent]) -> SentEvents:
    with context.storage.writing() as connection:
        lock_project(connection, project_id)
        there = repository.documents_with_ids(connection, project_id, [event.id for event in sent])
        other = [
            event
            for event in sent
            if event.id in there and json.loads(there[event.id]) != json.loads(event.document)
        ]
        if other:
            raise _refused([_says_other(event) for event in other])
        new = [event for event in sent if event.id not in there]
        own = [event for event in new if event.id.startswith(OWN_IDS)]
        if own:
            raise _refused([_is_reserved(event) for event in own])
        repository.add_events(connection, caller.company_id, project_id, new, caller.who)
        if new:
            said = f"{counted(len(new), 'event')} added"
            log_change(connection, caller.company_id, project_id, "record of the job", said, caller.who)
        supply = {event.id for event in new if json.loads(event.document)["event"] in ("ordered", "undone")}
        revision = put_beside(connection, caller, project_id, supply) if supply else None
        count = repository.count_of_events(connection, project_id)
    warnings = [] if revision is None else [_counts_once(revision)]
    return SentEvents(added=len(new), known=len(sent) - len(new), events=count, warnings=warnings)


def _warnings(
    context: AppContext, caller: Caller, project_id: str, new: Sequence[SentEvent]
) -> Iterator[Fault]:
    """What new events name that the newest finished plan does not have; nothing while there is none."""
    names = names_of_newest_plan(context, caller, project_id) if new else None
    if names is None:
        return
    for event in new:
        for column, said, _, mend in names.strange(json.loads(event.document)):
            place = f"record[{event.place}].{column}"
            fault = Fault(place=place, message=f"the newest plan has no such {column}", mend=mend)
            yield fault.model_copy(update={"value": said})


def _refused(faults: Sequence[dict[str, object]], more: int = 0) -> Problem:
    return faulty("The events have", faults, more, "none is added")


def _counts_once(revision: int) -> Fault:
    return Fault(
        place="record",
        message=f"what is told as ordered is part of what revision {revision} orders for the same level and product: it"
        " counts once, the larger of the two",
        mend="nothing, unless it comes on top: then issue the next revision",
    )


def _is_reserved(event: SentEvent) -> dict[str, object]:
    fault = Fault(
        place=f"record[{event.place}].id",
        message=f"ids that begin with {OWN_IDS} are those of issued orders",
        mend="give the event another id",
    )
    return {**fault.model_dump(), "value": event.id}


def _says_other(event: SentEvent) -> dict[str, object]:
    fault = Fault(
        place=f"record[{event.place}].id",
        message=f"the event {event.id} is on record already and says something else",
        mend="give a new event an id of its own; take back what was wrong with an event 'undone'",
    )
    return {**fault.model_dump(), "value": event.id}
