"""Pages from a plan's excerpts say what they say from the whole plan, and read no more of it than they need."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from api.pages.begun_plan import begun_plan
from api.pages.boards_view import boards_page, drawn_layout, run_pictures, step_counts
from api.pages.dated import dated_plan
from api.pages.dates_view import Asked, dates_view
from api.pages.excerpts import (
    LEVEL_VIEW,
    LISTED_STEPS,
    PLAN_HASH,
    name_of_level,
    name_of_steps,
)
from api.pages.figures import FIGURES
from api.pages.finding import find
from api.pages.job_view import job_state
from api.pages.kept_plan import LATE, OWN
from api.pages.level_view import level_view, run_page
from api.pages.order_view import order_view
from api.pages.plan_part import name_of_layout, name_of_run
from optimiser.model.plan import Plan
from optimiser.model.record import Record
from optimiser.ordering.dated_plan import DatedPlan
from optimiser.ordering.fitting_days import plans_that_fit
from optimiser.planning.plan import plan
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders import plans_by_hand
from tests.builders.job import JobOnSite
from tests.builders.kept_plans import Excerpts, everything_of, jobs
from tests.builders.levels import weekly
from tests.builders.sample_plans import sample_plan
from tests.builders.small_plan import small_plan

TODAY = date(2027, 1, 4)


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


@pytest.mark.parametrize(("name", "whole", "record"), jobs(), ids=[name for name, _, _ in jobs()])
def test_how_a_job_stands_is_the_same_from_what_its_record_tells_of(
    name: str, whole: Plan, record: Record
) -> None:
    everything = everything_of(whole)
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
