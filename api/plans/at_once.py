"""A project in, its plan out, while the request waits: for projects small enough.

What is made is kept in one transaction at the end, so a crash before it leaves nothing behind. A project that
is too large, or takes too long, or comes while every place is taken, is queued instead.
"""

from __future__ import annotations

import uuid
from contextlib import suppress
from dataclasses import asdict
from typing import Any

from anyio import to_thread

from api.accounts.service import Caller
from api.context import AppContext
from api.http.places import NoPlace
from api.http.problem_details import BROKEN_RULES, Problem
from api.idempotency.service import claim
from api.jobs.service import finish_at_once, log_job, refuse_too_many
from api.jobs.steps import BreaksTheRules, CannotBePlanned, Made
from api.limited_process import LimitReached, run_limited
from api.plans.making import PlanOptions, read_and_plan
from api.projects.reading import ReadProject, Unreadable, Unusable, Upload
from api.projects.service import add_project
from api.projects.uploads import as_problem, read_upload


async def schedule(
    context: AppContext,
    caller: Caller,
    upload: Upload,
    options: PlanOptions,
    idempotency_key: str | None,
    request_hash: str,
    *,
    in_background: bool,
) -> str:
    """Reads a project and plans it at once or queues it: the plan's id.

    Raises Problem when it cannot be read, 422 'cannot-be-planned' when no plan can do it, and 500
    'broken-rules' when the judge rejects what was planned.
    """
    planned: Made | None = None
    project: ReadProject | None = None
    if not in_background:
        with suppress(NoPlace):
            async with context.planning.place(caller.company_id):
                project, planned = await to_thread.run_sync(
                    _plan_now, context, upload, options, limiter=context.waiting
                )
                if project is None:
                    project = await read_upload(upload, context.settings)
    if project is None:
        project = await read_upload(upload, context.settings)
    return await to_thread.run_sync(
        keep, context, caller, project, options, planned, idempotency_key, request_hash
    )


def _plan_now(
    context: AppContext, upload: Upload, options: PlanOptions
) -> tuple[ReadProject | None, Made | None]:
    """The project and its plan, made in a limited process; None for what needs longer."""
    reported: list[ReadProject] = []

    def on_progress(event: dict[str, Any]) -> None:
        if "read" in event:
            reported.append(event["read"])

    settings = context.settings
    try:
        found: tuple[ReadProject, Made | None] = run_limited(
            read_and_plan,
            upload,
            options,
            settings.at_once_pieces,
            context.excerpts_of,
            seconds=settings.at_once_seconds,
            megabytes=settings.parse_megabytes,
            on_progress=on_progress,
        )
        return found
    except LimitReached:
        return (reported[0] if reported else None), None
    except (Unreadable, Unusable) as error:
        raise as_problem(error) from None
    except CannotBePlanned as error:
        raise Problem(422, "cannot-be-planned", str(error)) from None
    except BreaksTheRules as error:
        raise Problem(500, "broken-rules", BROKEN_RULES, broken_rules=list(error.rules)[:200]) from None


def keep(
    context: AppContext,
    caller: Caller,
    project: ReadProject,
    options: PlanOptions,
    planned: Made | None,
    idempotency_key: str | None,
    request_hash: str,
) -> str:
    """Keeps a project and its plan, or queues the plan: its id; that of an earlier equal request where there
    is one."""
    plan_id, project_id = uuid.uuid4().hex, uuid.uuid4().hex
    with context.storage.writing() as connection:
        made = claim(connection, caller.company_id, idempotency_key, request_hash, plan_id)
        if made is not None:
            return made
        if planned is None:
            refuse_too_many(connection, context, caller)
        add_project(connection, caller, project_id, project)
        log_job(connection, caller, plan_id, project_id, 1, "plan", asdict(options))
        if planned is None:
            context.queue.put(connection, plan_id)
        else:
            finish_at_once(connection, plan_id, planned)
    return plan_id
