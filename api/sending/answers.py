"""A supplier's answer to an issued order: what it says, and into the record of the job."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, ConfigDict, Field

from api.accounts.service import Caller
from api.context import AppContext
from api.events.service import record_of
from api.http.problem_details import Problem, faulty
from api.jobs.model import Job
from api.orders.service import find_issued, issued_until
from api.plans.documents import sent_order
from api.plans.files import find_finished_plan
from api.projects.reading import Unusable, unusable
from api.projects.uploads import limited
from api.sending.answered_lines import AnsweredLine, answered_lines
from api.sending.service import send_events


class AnswerRead(BaseModel):
    """What became of a supplier's answer."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "kind": "OrderResponse",
                "document": "OR-11",
                "added": 14,
                "known": 0,
                "remarks": ["line 2, K-110: 50 are confirmed, 75 were ordered"],
                "lines": [AnsweredLine.model_config["json_schema_extra"]["example"]],  # type: ignore[index]
            }
        }
    )
    kind: str = Field(description="OrderResponse or DespatchAdvice.")
    document: str
    added: int = Field(description="Events that are new on record.")
    known: int = Field(description="Events that were on record: a document counts once.")
    remarks: list[str] = Field(description="What is other than it was ordered.")
    lines: list[AnsweredLine] = Field(
        description="What is answered of every product for every level, beside what was ordered."
    )


@dataclass(frozen=True)
class SupplierAnswer:
    """A supplier's answer as it was read: its events as a JSON list, those of them that are new, and what it answers.
    `order` is the name of the order's document, `currency` that of its prices."""

    kind: str
    document: str
    issued_on: date
    order: str
    currency: str
    events: str
    new: int
    remarks: tuple[str, ...]
    lines: tuple[AnsweredLine, ...]


def read_answer(
    plan: str, issued: tuple[str, ...], record: str, body: bytes, day: date | None
) -> SupplierAnswer:
    """The events of a UBL document that answers an issued order: runs in a limited process. Raises Unusable."""
    from optimiser.errors.problems import UnusableInput
    from optimiser.model.plan import Plan
    from optimiser.model.record import Record
    from optimiser.reading.supplier_answer import answer_of

    order = sent_order(Plan.model_validate_json(plan), [json.loads(one) for one in issued])
    told = Record.model_validate({"events": json.loads(record)})
    try:
        found = answer_of(body, "the document", order, told, day)
    except UnusableInput as error:
        raise unusable(error) from None
    events = [event.model_dump(mode="json", exclude_defaults=True) for event in found.events]
    return SupplierAnswer(
        found.kind,
        found.document,
        found.issued_on,
        order.document,
        order.currency,
        json.dumps(events),
        len(told.with_events(found.events).events) - len(told.events),
        found.remarks,
        answered_lines(order, told, found, body),
    )


def answer_to(
    context: AppContext, caller: Caller, plan_id: str, body: bytes, received_on: date | None
) -> tuple[Job, SupplierAnswer]:
    """The job of a plan, and what a supplier's document says to its issued order; nothing is put on record.

    Raises Problem 404; 409 while the plan is not issued; 422 with every fault of the document.
    """
    with context.storage.reading() as connection:
        job, plan = find_finished_plan(connection, caller, plan_id)
        issued = find_issued(connection, caller, plan_id)
        if issued is None:
            raise Problem(
                409, "not-issued", "The plan's order was not issued, so there is nothing to answer."
            )
        chain = tuple(json.dumps(one) for one in issued_until(connection, caller, issued))
        record = record_of(connection, job.project_id)
    memory = context.settings.job_megabytes  # the plan is read too
    try:
        read = limited(
            context, read_answer, plan.decode(), chain, record, body, received_on, megabytes=memory
        )
    except Unusable as error:
        raise faulty("The document has", error.faults, error.more, "nothing is added") from None
    return job, read


def add_answer(
    context: AppContext, caller: Caller, plan_id: str, body: bytes, received_on: date | None
) -> AnswerRead:
    """Adds what a supplier's document says to the record of the plan's project: all of it, or nothing.

    Raises what `answer_to` raises.
    """
    job, read = answer_to(context, caller, plan_id, body, received_on)
    added = known = 0
    if read.events != "[]":
        sent = send_events(context, caller, job.project_id, read.events.encode())
        added, known = sent.added, sent.known
    return AnswerRead(
        kind=read.kind,
        document=read.document,
        added=added,
        known=known,
        remarks=list(read.remarks),
        lines=list(read.lines),
    )
