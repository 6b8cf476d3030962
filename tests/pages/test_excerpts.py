"""Pages from a plan's excerpts say what they say from the whole plan, and read no more of it than they need."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import pytest

from api.pages.begun_plan import BegunPlan, begun_plan
from api.pages.boards_view import boards_page, drawn_layout, layout_numbers, run_pictures, step_counts
from api.pages.dated import dated_plan
from api.pages.dates_view import Asked, dates_view
from api.pages.excerpts import (
    LEVEL_VIEW,
    LISTED_STEPS,
    PLAN_HASH,
    SMALL,
    excerpts_of,
    name_of_level,
    name_of_steps,
)
from api.pages.figures import FIGURES, forecast_levels_of
from api.pages.finding import find
from api.pages.job_view import job_state
from api.pages.kept_plan import LATE, OWN, KeptPlan, kept_plan, small_from
from api.pages.level_view import level_view, run_page
from api.pages.order_view import order_view
from api.pages.plan_part import PlanPart, index_of_parts, name_of_layout, name_of_run
from api.storage.tables import restored
from optimiser.model.plan import Plan
from optimiser.model.record import Record
from optimiser.ordering.dated_plan import DatedPlan
from optimiser.ordering.fitting_days import plans_that_fit
from optimiser.planning.plan import plan
from optimiser.replanning.replan import replan
from optimiser.writing.data.plan_json import plan_json
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders import plans_by_hand
from tests.builders.job import JobOnSite, of_level
from tests.builders.levels import weekly
from tests.builders.sample_plans import sample_plan
from tests.builders.small_plan import small_plan

TODAY = date(2027, 1, 4)


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


def _plans() -> list[tuple[str, Plan]]:
    by_hand = [("by hand", plans_by_hand.small_plan()), ("small", small_plan())]
    return [*by_hand, ("small sample", sample_plan("small")), ("l-shaped sample", sample_plan("l_shaped"))]


@pytest.mark.parametrize(("name", "plan"), _plans(), ids=[name for name, _ in _plans()])
def test_every_page_of_a_level_a_run_and_a_board_is_the_same_from_a_part_of_the_plan(
    name: str, plan: Plan
) -> None:
    index, excerpts = PlanIndex(plan), Excerpts(plan)
    for place in range(1, len(index.levels) + 1):
        assert LEVEL_VIEW.validate_json(excerpts.kept[name_of_level(place)]) == level_view(index, place)
        listed = LISTED_STEPS.validate_json(excerpts.kept[name_of_steps(place)])
        for part in range(1, listed.parts() + 1):
            numbers = dict.fromkeys(number for number, _, _ in listed.shown(part))
            some = excerpts.index(*(name_of_layout(number) for number in numbers))
            assert boards_page(some, place, part, listed) == boards_page(index, place, part)
        with pytest.raises(IndexError, match="no part"):
            listed.shown(listed.parts() + 1)
    for number, run in enumerate(plan.project.runs, 1):
        some = excerpts.index(name_of_run(number))
        assert run_page(some, number) == run_page(index, number)
        assert run_pictures(some, run.run) == run_pictures(index, run.run)
    for number in index.layout_numbers:
        assert drawn_layout(excerpts.index(name_of_layout(number)), number) == drawn_layout(index, number)


@pytest.mark.parametrize(("name", "plan"), _plans(), ids=[name for name, _ in _plans()])
def test_every_figure_of_a_plan_is_the_same_read_as_reckoned(name: str, plan: Plan) -> None:
    kept, index = Excerpts(plan).plan, PlanIndex(plan)
    for figure in FIGURES:
        assert figure(kept) == figure.reckoned(index), figure.name
    assert order_view(kept, TODAY) == order_view(plan, TODAY)
    assert find(kept, "L1") == find(index, "L1")


def dated() -> list[Plan]:
    """Plans whose deliveries have days: with one board for all levels, and with much that waits on site."""
    return [
        sample_plan("small"),
        small_plan(),
        plan(weekly(site_storage_m2=9, truck_pallets=2), staging="whole"),
    ]


@pytest.mark.parametrize("whole", dated(), ids=lambda one: one.project.project.name or "weekly")
def test_deliveries_are_judged_on_any_day_without_reading_the_pieces(whole: Plan) -> None:
    by_plan, by_excerpts = DatedPlan.of(whole), dated_plan(Excerpts(whole))
    assert (by_plan is None) == (by_excerpts is None)
    if by_plan is None or by_excerpts is None:
        return
    assert by_excerpts.floor == by_plan.floor
    for days in (0, 1, -9, 30):
        day = by_plan.day_of(by_plan.planned, 0) + timedelta(days=days)
        views = [
            dates_view(one, Asked({1: day} if days else {}, 1), TODAY, ordered=False)
            for one in (by_plan, by_excerpts)
        ]
        assert views[0] == views[1]
    last = {max(by_plan.planned.needed): TODAY + timedelta(days=400)}
    for needs in ({}, last):
        fits = plans_that_fit([("it", by_plan)], needs, TODAY, ordered=True)
        assert plans_that_fit([("it", by_excerpts)], needs, TODAY, ordered=True) == fits


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


@pytest.mark.parametrize(("name", "whole", "record"), jobs(), ids=[name for name, _, _ in jobs()])
def test_how_a_job_stands_is_the_same_from_what_its_record_tells_of(
    name: str, whole: Plan, record: Record
) -> None:
    everything = BegunPlan(
        whole,
        whole.project,
        {
            level.level: frozenset(piece.id for piece in whole.pieces if piece.level == level.level)
            for level in whole.project.levels
        },
        frozenset(),
    )
    told = job_state(begun_plan(Excerpts(whole), record), record)
    assert told == job_state(everything, record)
    assert bool(told.wrong) == (name == "strange names")


def test_little_is_read_of_a_plan_of_which_little_is_told() -> None:
    whole, job = sample_plan("tower"), JobOnSite()
    job.write("cut", piece=whole.pieces[40].id)
    assert 0 < len(begun_plan(Excerpts(whole), job.record).plan.pieces) < len(whole.pieces) / 4


def test_what_is_not_among_the_small_tables_is_read_from_the_whole_plan() -> None:
    plan = small_plan()
    kept = Excerpts(plan, whole=True).plan
    for name in Plan.model_fields:
        if name != "project":
            assert getattr(kept, name) == getattr(plan, name), name
    assert kept.project.gaps == plan.project.gaps
    assert kept.project.building.gaps == plan.project.building.gaps
    assert kept.model_dump_json(by_alias=True) == plan.model_dump_json(by_alias=True)
    with pytest.raises(AttributeError):
        _ = kept.no_such_table


def test_a_large_table_is_never_taken_for_empty() -> None:
    kept = Excerpts(small_plan()).plan
    for name in LATE:
        if name not in OWN:
            with pytest.raises(AssertionError, match="asked for the whole plan"):
                getattr(kept, name)
    with pytest.raises(AssertionError, match="asked for the whole plan"):
        _ = kept.project.gaps


def test_a_figure_that_was_not_reckoned_with_the_others_is_reckoned_once_and_kept() -> None:
    plan = small_plan()
    excerpts = Excerpts(plan, whole=True, without=step_counts.name)
    assert step_counts(excerpts.plan) == step_counts(plan)
    assert excerpts.added == [step_counts.name]


def test_the_excerpts_know_of_which_plan_they_are() -> None:
    plan = small_plan()
    assert (
        Excerpts(plan).kept[PLAN_HASH]
        != Excerpts(plan.model_copy(update={"cautions": ("Other.",)})).kept[PLAN_HASH]
    )
