"""Asking for plans, finding them, and issuing their orders."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from api.accounts.service import Caller
from api.context import AppContext
from api.http.problem_details import Problem
from api.idempotency.service import made_before
from api.jobs import service as jobs
from api.jobs.model import Job
from api.limited_process import run_limited
from api.orders import service as orders
from api.orders.chain import Issued
from api.orders.difference import Because
from api.orders.on_record import Line
from api.orders.putting import Known
from api.plans.files import documents_for, find_finished_plan, finished_plan
from api.plans.making import NextRevision, PlanOptions, broken_rules_of, next_revision_json
from api.plans.renderings import rendered
from api.plans.schemas import summary_of
from api.projects.reading import ReadProject
from api.projects.service import add_version, document_of_version
from optimiser.tables.text import counted

_TRIES = 20  # against others who issue at the same time
_REVISION_SECONDS = 60


def plan_made_before(
    context: AppContext, caller: Caller, idempotency_key: str | None, request_hash: str
) -> str | None:
    """The id of the plan that an equal request made. Raises Problem 422 when the key belongs to another request."""
    with context.storage.reading() as connection:
        return made_before(connection, caller.company_id, idempotency_key, request_hash)


def plan_newer_survey(
    context: AppContext,
    caller: Caller,
    project_id: str,
    version: int,
    survey: ReadProject,
    options: PlanOptions,
    changed_tables: Mapping[str, str] | None = None,
) -> str:
    """Keeps a newer survey as the project's next version and queues its plan, in one transaction: the plan's id. Of
    each of `changed_tables` the log says what changed.

    Raises Problem 412 when `version` is no longer the project's newest.
    """
    plan_id = uuid.uuid4().hex
    with context.storage.writing() as connection:
        newest = add_version(connection, caller, project_id, version, survey, changed_tables)
        jobs.add_job(connection, context, caller, plan_id, project_id, newest, "plan", asdict(options))
    return plan_id


def options_of(plan: Job) -> PlanOptions:
    """How a plan was asked for, to plan another survey in the same way. That of a job's rest has no such options."""
    asked = summary_of(plan).request
    return PlanOptions(
        staging=asked.staging,
        time_limit=asked.time_limit,
        seed=asked.seed,
        carry_cost=asked.carry_cost,
        waiting_choice=asked.waiting_choice,
        joint_rounds=asked.joint_rounds,
        scenario=None if asked.scenario is None else json.loads(asked.scenario.model_dump_json()),
    )


def newest_plans(context: AppContext, caller: Caller, project_ids: Iterable[str]) -> dict[str, Job]:
    """The newest plan of each of the caller's projects that has one."""
    with context.storage.reading() as connection:
        rows = {one: jobs.recent_jobs(connection, caller, one, "plan", 1) for one in project_ids}
    return {project_id: found[0] for project_id, found in rows.items() if found}


def newest_by_staging(context: AppContext, caller: Caller, project_id: str, version: int) -> dict[str, str]:
    """By staging, the id of the newest finished plan of a project's version that was asked for by its staging alone."""
    newest: dict[str, str] = {}
    with context.storage.reading() as connection:
        for row in jobs.recent_jobs(connection, caller, project_id, "plan", 200):
            wanted = summary_of(row).request
            plain = not (
                wanted.waiting_choice
                or wanted.carry_cost
                or wanted.joint_rounds is not None
                or wanted.scenario
                or wanted.replan_of
            )
            if row.status == "done" and row.project_version == version and plain:
                newest.setdefault(wanted.staging, row.id)
    return newest


def issue_plan(
    context: AppContext, caller: Caller, plan_id: str, expected: frozenset[int] | None = None
) -> tuple[Issued, bool]:
    """Freezes the plan's order as the project's next revision: the revision, and whether it is new.

    The plan is judged once more first. That of a job's rest goes on top of what was issued last. Raises Problem 404;
    409 while it is not done, when it breaks rules, or when what was issued is not on the record that it was made from;
    412 when the last revision is none of those `expected` (0: none is issued; None: any).
    """
    with context.storage.reading() as connection:
        row, document = jobs.find_finished_job(connection, caller, plan_id, "plan")
        known = orders.find_issued(connection, caller, plan_id)
        project = document_of_version(connection, row.project_id, row.project_version).decode()
        newest = orders.newest_revision(connection, row.project_id)
    if known is not None:
        return orders.with_successor(known, newest), False
    _refuse_broken(context, document, project, json.loads(row.parameters).get("scenario"))
    events = json.loads(document)["record"]["events"]
    told = frozenset(event["id"] for event in events if event.get("id"))
    for last_try in (*(False,) * (_TRIES - 1), True):
        with context.storage.reading() as connection:
            last = orders.last_issued(connection, row.project_id)
        after = 0 if last is None else last["revision"]
        if expected is not None and after not in expected:
            raise Problem(
                412,
                "precondition-failed",
                f"The last revision is {after or 'none'}, not the one that was expected. Look at it, then issue again.",
            )
        found = revision_after(context, caller, row, last, anew=True)
        if found.unknown and last is not None:
            raise Problem(
                409,
                "not-on-record",
                f"The plan was made from a record by which less is ordered than revision {last['revision']} ordered:"
                f" {', '.join(found.unknown)}. Plan the rest of the job again, then issue that plan.",
            )
        try:
            return orders.issue(
                context,
                caller,
                row,
                found.order,
                documents_for(context, row, document),
                after_revision=after,
                because=found.because,
                plan_knew=Known(told, found.standing),
            )
        except Problem as problem:
            if problem.kind != "not-the-last-issued" or last_try or _goes_on_top(row):
                raise
    raise AssertionError("the last try returns or raises")


def _refuse_broken(
    context: AppContext, document: bytes, project: str, scenario: dict[str, Any] | None
) -> None:
    broken: tuple[str, ...] = run_limited(
        broken_rules_of,
        document.decode(),
        project,
        scenario,
        seconds=120,
        megabytes=context.settings.job_megabytes,
    )
    if broken:
        raise Problem(
            409,
            "broken-rules",
            f"The plan breaks {counted(len(broken), 'rule')} and cannot be issued.",
            broken_rules=list(broken)[:200],
        )


@dataclass(frozen=True)
class RevisionAfter:
    """What issuing a plan would issue: the order, the products that were issued and are not on the plan's record, what
    stands of the last revision (None: all of it), and why quantities change."""

    order: dict[str, Any]
    unknown: tuple[str, ...] = ()
    standing: Mapping[Line, int] | None = None
    because: Because | None = None


def revision_after(
    context: AppContext, caller: Caller, plan: Job, last: Issued | None, *, anew: bool = False
) -> RevisionAfter:
    """What issuing a plan would issue after the last revision (None: nothing is issued). What is issued is worked out
    `anew`: a rendering that is kept is for reading."""

    def document() -> str:
        return finished_plan(context, caller, plan.id)[1].decode()

    if last is None:
        return RevisionAfter(json.loads(document())["order"])

    def given() -> tuple[str | None, ...]:
        with context.storage.reading() as connection:
            _, issued_plan = find_finished_plan(connection, caller, last["plan_id"])
            survey = None
            if last.get("refit_id"):
                survey = document_of_version(connection, plan.project_id, last["project_version"]).decode()
        return document(), json.dumps(last["order"]), issued_plan.decode(), survey

    named = (_goes_on_top(plan), last["hash"])
    if anew:
        content: bytes = run_limited(
            next_revision_json,
            *given(),
            *named,
            seconds=_REVISION_SECONDS,
            megabytes=context.settings.job_megabytes,
        )
    else:
        content = rendered(
            context, plan.id, next_revision_json, given, *named, seconds=_REVISION_SECONDS
        ).content
    found = NextRevision(**json.loads(content))
    return RevisionAfter(
        json.loads(found.order),
        tuple(found.unknown),
        None if found.standing is None else {(level, code): units for level, code, units in found.standing},
        Because(
            {(level, code): tuple(causes) for level, code, causes, _ in found.causes},
            damaged={(level, code): tuple(damaged) for level, code, _, damaged in found.causes if damaged},
        ),
    )


def _goes_on_top(plan: Job) -> bool:
    return summary_of(plan).request.replan_of is not None
