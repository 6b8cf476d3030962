"""A finished plan for its pages, from its excerpts; one that has none yet gets them with the first request."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any

import sqlalchemy as sa

from api.accounts.service import Caller
from api.context import AppContext
from api.jobs.excerpts import excerpt_of, excerpts_named, keep_excerpt, replace_excerpts
from api.jobs.model import Job
from api.jobs.service import find_done_job
from api.limited_process import run_limited
from api.orders.service import find_issued
from api.pages.boards_view import BoardsPage, boards_page, layout_numbers
from api.pages.excerpts import (
    LEVEL_VIEW,
    LISTED_STEPS,
    PLAN_HASH,
    SMALL,
    excerpts_of,
    name_of_level,
    name_of_steps,
)
from api.pages.figures import forecast_levels_of
from api.pages.kept_plan import KeptPlan, Small, kept_plan, small_from
from api.pages.level_view import LevelView, level_view
from api.pages.plan_part import PlanPart, index_of_parts, name_of_layout, name_of_run
from api.plans.files import finished_plan
from optimiser.model.plan import Plan
from optimiser.writing.drawing.plan_index import PlanIndex

_SECONDS = 300  # for the excerpts of a large building


class PlanSource:
    """Where the excerpts of a caller's finished plan are, and the plan itself."""

    def __init__(self, context: AppContext, caller: Caller, job: Job) -> None:
        self._context, self._caller, self.job = context, caller, job

    @cached_property
    def plan(self) -> KeptPlan:
        """The plan, its large tables late."""
        return kept_plan(self._small, self)

    def parts(self, names: Iterable[str]) -> list[PlanPart]:
        """Parts of the plan by the names of their excerpts."""
        with self._context.storage.reading() as connection:
            texts = excerpts_named(connection, self.job.id, list(names))
        return [PlanPart.model_validate_json(text) for text in texts]

    def with_tables(self, **tables: Any) -> KeptPlan:
        """The plan with some of its large tables as given, so that they are not read."""
        return kept_plan(self._small, self, **tables)

    def level(self, place: int) -> LevelView:
        """A level by its place in delivery order from 1. Raises IndexError where there is none."""
        text = self.excerpt(name_of_level(place))
        return level_view(PlanIndex(self.plan), place) if text is None else LEVEL_VIEW.validate_json(text)

    def run(self, place: int) -> PlanIndex:
        """The index of a run, by its place in the project from 1."""
        return self._index([name_of_run(place)])

    def layout(self, number: int) -> PlanIndex:
        """The index of a layout, by its number."""
        return self._index([name_of_layout(number)])

    def boards(self, level: int, part: int) -> BoardsPage:
        """One part of what is cut with a level, both counted from 1. Raises IndexError where there is none."""
        text = self.excerpt(name_of_steps(level))
        if text is None:
            return boards_page(PlanIndex(self.plan), level, part)
        listed = LISTED_STEPS.validate_json(text)
        numbers = dict.fromkeys(number for number, _, _ in listed.shown(part))
        return boards_page(self._index([name_of_layout(one) for one in numbers]), level, part, listed)

    def _index(self, names: Sequence[str]) -> PlanIndex:
        with self._context.storage.reading() as connection:
            texts = excerpts_named(connection, self.job.id, names)
        forecast, numbers = forecast_levels_of(self.plan), layout_numbers(self.plan)
        return index_of_parts(self._small, texts, self, forecast, numbers)

    @cached_property
    def _small(self) -> Small:
        text = self.excerpt(SMALL)
        assert text is not None, "the excerpts were made before"
        return small_from(text)

    @cached_property
    def document(self) -> bytes:
        """The whole plan as UTF-8 JSON: of an issued one as it was issued."""
        return finished_plan(self._context, self._caller, self.job.id)[1]

    def excerpt(self, name: str) -> bytes | None:
        """An excerpt by its name; None where the plan has none of that name."""
        with self._context.storage.reading() as connection:
            return excerpt_of(connection, self.job.id, name)

    def keep(self, name: str, text: bytes) -> None:
        """Keeps a further excerpt."""
        with self._context.storage.writing() as connection:
            keep_excerpt(connection, self.job.id, name, text)

    def whole(self) -> Plan:
        """The whole plan."""
        return self._whole

    @cached_property
    def _whole(self) -> Plan:
        return Plan.model_validate_json(self.document)

    def made(self) -> PlanSource:
        """Itself, once it has its excerpts."""
        if self._has_excerpts():
            return self
        with self._context.making.of(f"excerpts {self.job.id}"):
            if not self._has_excerpts():
                found: dict[str, str] = run_limited(
                    excerpts_of,
                    self.document.decode(),
                    seconds=_SECONDS,
                    megabytes=self._context.settings.job_megabytes,
                )
                with self._context.storage.writing() as connection:
                    replace_excerpts(connection, self.job.id, found)
        return self

    def _has_excerpts(self) -> bool:
        """Whether it has them, of the very plan that was issued where it was."""
        with self._context.storage.reading() as connection:
            kept = excerpt_of(connection, self.job.id, PLAN_HASH)
            return kept is not None and kept.decode() == (self._issued_hash(connection) or kept.decode())

    def _issued_hash(self, connection: sa.Connection) -> str | None:
        issued = find_issued(connection, self._caller, self.job.id) or {}
        return next(
            (one["sha256"] for one in issued.get("documents", ()) if one["name"] == "plan.json"), None
        )


def source_of(context: AppContext, caller: Caller, plan_id: str) -> PlanSource:
    """Where a finished plan is read from. Raises Problem 404, or 409 while it is not done."""
    with context.storage.reading() as connection:
        job = find_done_job(connection, caller, plan_id, "plan")
    return PlanSource(context, caller, job).made()
