"""Plans as the pages read them, from their excerpts, and jobs told in each way in which a record tells them."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from typing import Any

from api.pages.begun_plan import BegunPlan, job_names, piece_places
from api.pages.boards_view import layout_numbers
from api.pages.excerpts import SMALL, excerpts_of
from api.pages.figures import forecast_levels_of
from api.pages.kept_plan import KeptPlan, kept_plan, small_from
from api.pages.plan_part import PlanPart, index_of_parts
from api.storage.tables import restored
from optimiser.model.plan import Plan
from optimiser.model.record import Record
from optimiser.replanning.replan import replan
from optimiser.writing.data.plan_json import plan_json
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders.job import JobOnSite, of_level
from tests.builders.sample_plans import sample_plan


class Excerpts:
    """The excerpts of a plan as a page has them; the whole plan only where a test lets it have it."""

    def __init__(self, plan: Plan, *, whole: bool = False, without: str = "") -> None:
        packed = excerpts_of(plan_json(plan))
        self.kept = {name: restored(base64.b64decode(text)) for name, text in packed.items()}
        self.kept.pop(without, None)
        self._plan, self._whole = plan, whole
        self.added: list[str] = []

    def excerpt(self, name: str) -> bytes | None:
        return self.kept.get(name)

    def keep(self, name: str, text: bytes) -> None:
        self.added.append(name)

    def whole(self) -> Plan:
        assert self._whole, "a page asked for the whole plan"
        return self._plan

    @property
    def plan(self) -> KeptPlan:
        return kept_plan(small_from(self.kept[SMALL]), self)

    def parts(self, names: Iterable[str]) -> list[PlanPart]:
        return [PlanPart.model_validate_json(self.kept[name]) for name in names if name in self.kept]

    def with_tables(self, **tables: Any) -> KeptPlan:
        return kept_plan(small_from(self.kept[SMALL]), self, **tables)

    def index(self, *names: str) -> PlanIndex:
        texts = [self.kept[name] for name in names]
        forecast, numbers = forecast_levels_of(self.plan), layout_numbers(self.plan)
        return index_of_parts(small_from(self.kept[SMALL]), texts, self, forecast, numbers)


def everything_of(whole: Plan) -> BegunPlan:
    """All of a plan, where a page of its job has only what it needs."""
    index = PlanIndex(whole)
    return BegunPlan(
        whole, whole.project, piece_places.reckoned(index), job_names.reckoned(index), index.layout_numbers
    )


def jobs() -> list[tuple[str, Plan, Record]]:
    """Plans with what happened since, in each way in which a record tells it."""
    small, job = sample_plan("small"), JobOnSite()
    first, second = (level.level for level in small.project.levels_in_order()[:2])
    job.order_all(small)
    job.deliver(small, first, short=1)
    delivered = job.record
    job.cut_and_fit(of_level(small, first)[2:5])
    spoilt = job.write("cut", piece=of_level(small, first)[0].id)
    job.write("scrapped", piece=spoilt.piece)
    number, _ = small.numbered_layouts[-1]
    job.write("cut", board=str(number))
    job.write("kept", board=str(number), length_mm=400, width_mm=120)
    by_piece = job.record
    job.write("cut", level=first)
    job.write("fitted", level=second)
    if small.remainders:
        job.write("scrapped", board=small.remainders[0].name)
    by_level = job.record
    job.write("cut", piece="L9-N-001")
    job.write("cut", board="B999")
    job.write("kept", board="X", length_mm=400, width_mm=120)
    rest = replan(small, by_piece)
    again = JobOnSite(list(rest.record.events))
    again.cut_and_fit(piece for piece in of_level(rest, first)[:2])
    again.write("cut", level=second)
    return [
        ("nothing", small, Record()),
        ("delivered", small, delivered),
        ("by piece and board", small, by_piece),
        ("by level", small, by_level),
        ("strange names", small, job.record),
        ("planned again", rest, rest.record),
        ("planned again and gone on", rest, again.record),
    ]
