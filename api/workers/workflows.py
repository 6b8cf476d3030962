"""A job as a durable workflow: each step's outcome is kept, so a worker that takes a job over goes on there.

Steps run at least once: each is harmless to repeat, because what it makes is kept under its job and name once
only, and a job that has ended never changes again. The solver runs in a process of its own (see
`api.limited_process`), which is ended within a second when the job is cancelled.
"""

from __future__ import annotations

import contextlib
import json
import time
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa
import structlog
from dbos import DBOS, SetEnqueueOptions

from api.http.problem_details import BROKEN_RULES, problem_document
from api.jobs.model import OPEN, Job
from api.jobs.queue import PARTS, RUN_JOB, RUN_PART
from api.jobs.repository import (
    fail_job,
    finish_job,
    job_to_run,
    keep_step,
    kept_step,
    names_of_kept_steps,
    report_step,
    start_job,
    status_of,
)
from api.jobs.steps import (
    SHARE_OUT,
    BreaksTheRules,
    CannotBePlanned,
    Made,
    StepInput,
    part_name,
    part_number,
)
from api.jobs.turns import SHARED_OUT
from api.limited_process import LimitReached, Stopped, run_limited
from api.planner import STEPS, run_step, search_limits
from api.projects.service import document_of_version
from api.workers.context import WorkerContext

_CANCEL_POLL_SECONDS = 0.2
_PROGRESS_SECONDS = 0.25
_RETRIES: Any = {"retries_allowed": True, "interval_seconds": 1.0, "backoff_rate": 1.0, "max_attempts": 3600}


@DBOS.workflow(name=RUN_JOB, max_recovery_attempts=20)
def run_job(job_id: str) -> None:
    """One job from its first step to its result; its parts, where it is shared out, are workflows of their own
    on whichever workers are free."""
    with WorkerContext.counting_a_job():
        kind = start(job_id)
        for step in STEPS.get(kind, ()):
            if not perform(job_id, step):
                return
            if step == SHARE_OUT:
                count, turn = _counted(count_parts(job_id))
                with SetEnqueueOptions(priority=turn):
                    parts = [DBOS.enqueue_workflow(PARTS, run_part, job_id, n) for n in range(count)]
                for part in parts:
                    part.get_result()
        if kind:
            finish(job_id, STEPS[kind][-1])


@DBOS.workflow(name=RUN_PART, max_recovery_attempts=20)
def run_part(job_id: str, number: int) -> None:
    """One part of a job that is shared out."""
    with WorkerContext.counting_a_job():
        perform(job_id, part_name(number))


@DBOS.step(name="start", **_RETRIES)
def start(job_id: str) -> str:
    """Marks the job as running here: its kind, or '' when it has ended already."""
    with WorkerContext.storage.writing() as connection:
        if not start_job(connection, job_id, WorkerContext.name):
            return ""
        job = job_to_run(connection, job_id)
    assert job is not None
    kind: str = job.kind
    return kind


@DBOS.step(name="count parts", **_RETRIES)
def count_parts(job_id: str) -> list[int]:
    """Into how many parts a job is shared out, none when it has ended; and its turn, which is theirs too."""
    with WorkerContext.storage.reading() as connection:
        if status_of(connection, job_id) not in OPEN:
            return [0, 1]
        count: int = _made(connection, job_id, SHARE_OUT).summary["parts"]
    queued = DBOS.list_workflows(workflow_ids=[job_id], load_input=False, load_output=False)
    return [count, max(1, queued[0].priority or 1)]


def _counted(found: list[int] | int) -> tuple[int, int]:
    """What `count_parts` found; a job that was under way when turns were new kept its count alone."""
    return (found, 1) if isinstance(found, int) else (found[0], found[1])


@DBOS.step(name="perform", **_RETRIES)
def perform(job_id: str, step: str) -> bool:
    """Makes one step's document and keeps it; False when the job has ended.

    Whatever the step itself cannot do ends the job as failed. Only the database's errors leave this function:
    then it is tried again.
    """
    with WorkerContext.storage.reading() as connection:
        job = job_to_run(connection, job_id)
        if job is None or job.status not in OPEN:
            return False
        if kept_step(connection, job_id, step) is not None:
            return True
        parameters, stop_after = search_limits(
            job.kind, json.loads(job.parameters), WorkerContext.settings.solver_seconds
        )
        work = StepInput(
            kind=job.kind,
            step=step,
            project=document_of_version(connection, job.project_id, job.project_version).decode(),
            parameters=parameters,
            stop_after=stop_after,
            made={name: _made(connection, job_id, name) for name in _needed(connection, job, step)},
        )
    settings, watch = WorkerContext.settings, _Watch(job_id, step)
    watch.begin()
    try:
        made: Made = run_limited(
            run_step,
            work,
            seconds=settings.job_seconds,
            megabytes=settings.job_megabytes,
            on_progress=watch.progress,
            unwanted=watch.cancelled,
            patient=job.kind in SHARED_OUT,
        )
    except Stopped:
        return False
    except sa.exc.SQLAlchemyError:
        raise
    except Exception as error:
        with WorkerContext.storage.writing() as connection:
            fail_job(connection, job_id, _failure(f"/{job.kind}s/{job_id}", error))
        return False
    with WorkerContext.storage.writing() as connection:
        if status_of(connection, job_id) in OPEN:
            keep_step(connection, job_id, step, json.dumps(asdict(made)))
    watch.kept()
    return True


@DBOS.step(name="finish", **_RETRIES)
def finish(job_id: str, last_step: str) -> None:
    """Ends the job with what its last step made."""
    with WorkerContext.storage.writing() as connection:
        if status_of(connection, job_id) in OPEN:
            made = _made(connection, job_id, last_step)
            finish_job(connection, job_id, made)


class _Watch:
    """Reports a step's progress, and looks whether its job is still wanted. The database may be away for a
    while: then neither stops the step."""

    def __init__(self, job_id: str, step: str) -> None:
        self.job_id, self.step, self._part = job_id, step, part_number(step)
        self._looked = self._reported = time.monotonic()
        self._cancelled = False

    def cancelled(self) -> bool:
        now = time.monotonic()
        if now - self._looked >= _CANCEL_POLL_SECONDS:
            self._looked = now
            try:
                with WorkerContext.storage.reading() as connection:
                    self._cancelled = status_of(connection, self.job_id) not in OPEN
            except sa.exc.SQLAlchemyError:
                pass
        return self._cancelled

    def progress(self, event: dict[str, Any]) -> None:
        now = time.monotonic()
        if self._part is None and now - self._reported >= _PROGRESS_SECONDS:
            self._reported = now
            self.report(event.get("fraction"), **{key: event[key] for key in event if key != "fraction"})

    def begin(self) -> None:
        """The step has begun; a job that is shared out tells of its parts when they are kept."""
        if self._part is None:
            self.report(None)

    def kept(self) -> None:
        """The step's document is kept."""
        if self._part is None:
            return
        with contextlib.suppress(sa.exc.SQLAlchemyError), WorkerContext.storage.reading() as connection:
            whole = _made(connection, self.job_id, SHARE_OUT).summary["parts"]
            done = len(names_of_kept_steps(connection, self.job_id)) - 1
            self.step = "parts"
            self.report(done / whole, parts_done=done, parts=whole)

    def report(self, fraction: float | None, **more: Any) -> None:
        try:
            with WorkerContext.storage.writing() as connection:
                report_step(connection, self.job_id, WorkerContext.name, self.step, fraction, **more)
        except sa.exc.SQLAlchemyError as error:
            structlog.get_logger().warning("progress_not_kept", job=self.job_id, error=type(error).__name__)


def _made(connection: sa.Connection, job_id: str, step: str) -> Made:
    kept = kept_step(connection, job_id, step)
    assert kept is not None, f"step {step} of job {job_id} is not kept"
    return Made(**json.loads(kept))


def _needed(connection: sa.Connection, job: Job, step: str) -> list[str]:
    """The steps whose documents a step works from: a part needs to know only how the job is shared out."""
    if part_number(step) is not None:
        return [SHARE_OUT]
    return [name for name in names_of_kept_steps(connection, job.id) if name != step]


def _failure(instance: str, error: Exception) -> dict[str, Any]:
    if isinstance(error, CannotBePlanned):
        return problem_document(422, "cannot-be-planned", str(error), instance=instance)
    if isinstance(error, BreaksTheRules):
        rules = list(error.rules)[:200]
        return problem_document(500, "broken-rules", BROKEN_RULES, instance=instance, broken_rules=rules)
    if isinstance(error, LimitReached):
        detail = f"The job needed more {error.limit} than a job is given. Plan fewer levels at a time."
        return problem_document(422, "limit-reached", detail, instance=instance)
    structlog.get_logger().error("job_failed", job=instance, exc_info=error)
    detail = f"Something went wrong here. Quote {instance} when you report it."
    return problem_document(500, "internal-error", detail, instance=instance)
