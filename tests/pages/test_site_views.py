"""What the pages at the slab edge look up: states of pieces, today's level, what can be taken back, goods received."""

from __future__ import annotations

import json
from datetime import date
from functools import cache
from typing import Any

import pytest

from api.orders.putting import with_what_is_issued
from api.pages.begun_plan import label_places
from api.pages.measuring_view import runs_to_measure
from api.pages.receiving_view import goods
from api.pages.site_view import SiteView
from api.readings.schemas import KeptReadings
from optimiser.model.plan import Plan
from optimiser.model.record import Record
from optimiser.reading.plan_names import PlanNames
from optimiser.takeoff.inspection import inspection
from optimiser.writing.drawing.plan_index import PlanIndex
from tests.builders.job import JobOnSite, of_level
from tests.builders.kept_plans import Excerpts, everything_of, jobs
from tests.builders.plans_by_hand import measured, small_plan


@cache
def made() -> Plan:
    """A plan of two levels, small enough to be counted on paper."""
    return measured(small_plan())


def view(job: JobOnSite, plan: Plan | None = None) -> SiteView:
    """The site of that plan after a job's events."""
    told = [json.loads(event.model_dump_json(exclude_defaults=True)) for event in job.events]
    return whole_site(plan or made(), json.dumps(told))


def whole_site(plan: Plan, record: str) -> SiteView:
    """The site of a plan, every level whole."""
    return SiteView.of(Excerpts(plan), record, tuple(level.level for level in plan.project.levels))


@pytest.mark.parametrize(("name", "whole", "record"), jobs(), ids=[name for name, _, _ in jobs()])
def test_a_level_at_the_slab_edge_is_the_same_from_a_part_of_the_plan(
    name: str, whole: Plan, record: Record
) -> None:
    told = json.dumps([json.loads(event.model_dump_json(exclude_defaults=True)) for event in record.events])
    index = PlanIndex(whole)
    full = SiteView.after(record, everything_of(whole), index.forecast_levels)
    assert bool(full.wrong) == (name == "strange names")
    for level in full.levels:
        some = SiteView.of(Excerpts(whole), told, [level.level])
        assert (some.wrong, some.strangers) == (full.wrong, full.strangers)
        assert (some.levels, some.today) == (full.levels, full.today)
        assert some.begun.plan_names() == PlanNames.of(whole)
        assert some.steps(level) == full.steps(level)
        assert some.runs(level) == full.runs(level)
        of_all = inspection(whole, record)[level.place - 1]
        assert inspection(some.plan, some.record, levels=[level.level]) == (of_all,)


def test_a_piece_is_cut_then_fitted_and_each_of_its_own_events_can_be_taken_back() -> None:
    job = JobOnSite()
    first, second, third, *_ = of_level(made(), "L01")
    cut = job.write("cut", piece=first.id)
    fitted = job.write("fitted", piece=first.id)
    job.write("cut", piece=second.id)
    spoilt = job.write("scrapped", piece=second.id)
    site = view(job)
    assert [site.state(piece.id) for piece in (first, second, third)] == ["fitted", "damaged", "planned"]
    pieces = {one.piece.id: one for _, row in site.runs(site.level(1)) for one in row}
    assert (pieces[first.id].cut_event, pieces[first.id].fitted_event) == (cut.id, fitted.id)
    assert pieces[second.id].spoilt_event == spoilt.id
    assert pieces[third.id].cut_event == ""


def test_what_the_plan_was_made_with_cannot_be_taken_back_any_more() -> None:
    job = JobOnSite()
    first = of_level(made(), "L01")[0]
    job.write("cut", piece=first.id)
    later = made().model_copy(update={"record": job.record})
    site = view(job, later)
    pieces = {one.piece.id: one for _, row in site.runs(site.level(1)) for one in row}
    assert pieces[first.id].cut_event == ""


def test_today_is_the_first_measured_level_that_is_not_wholly_fitted() -> None:
    job = JobOnSite()
    assert view(job).today.level == "L01"  # type: ignore[union-attr]
    job.write("fitted", level="L01")
    assert view(job).today.level == "L02"  # type: ignore[union-attr]
    job.write("fitted", level="L02")
    assert view(job).today is None


def test_every_piece_of_a_level_is_in_its_steps_once_and_steps_of_nominal_levels_are_not_ready() -> None:
    site = view(JobOnSite())
    for level in site.levels:
        here = [
            one.piece.id
            for step in site.steps(level)
            for one in step.pieces
            if one.piece.level == level.level
        ]
        assert sorted(here) == sorted(piece.id for piece in of_level(made(), level.level))
    nominal = whole_site(small_plan(), "[]")
    (open_level,) = [level for level in nominal.levels if level.nominal]
    assert not any(
        step.ready
        for step in nominal.steps(open_level)
        if any(one.piece.level == open_level.level for one in step.pieces)
    )


def test_each_label_opens_its_piece_or_the_level_that_its_remainder_waits_for() -> None:
    labels = label_places(Excerpts(made()).plan)
    for piece in made().pieces:
        assert labels[piece.id].endswith(f"/fit#label-{piece.id}")
    for part in made().remainders:
        assert labels[part.name] == f"levels/2#label-{part.name}"


def test_a_record_that_does_not_fit_the_plan_is_told() -> None:
    job = JobOnSite()
    job.write("cut", piece="nowhere-1")
    job.write("cut", board="B9999")
    site = view(job)
    assert "nowhere-1" in site.wrong[0]
    assert [event.piece or event.board for event in site.strangers] == ["nowhere-1", "B9999"]
    assert site.levels[0].cut == 0


def test_goods_are_counted_against_what_is_on_record_as_ordered() -> None:
    job, (code, other) = JobOnSite(), ("B-120", "K-110")
    job.write("ordered", code=code, quantity=10, level="L01")
    job.write("ordered", code=code, quantity=6, level="L02")
    job.write("ordered", code=other, quantity=50, level="L01")
    job.write("delivered", code=code, quantity=8, level="L01", note="1 damaged")
    job.write("scrapped", code=code, quantity=1, level="L01", note="damaged on arrival: wet")
    job.write("scrapped", code=code, quantity=2, level="L01", note="broken by the crew")
    first, second = goods(made(), job.record)
    line = first.lines[0]
    assert (line.ordered, line.came, line.damaged, line.short, line.due) == (10, 8, 3, 5, 2)
    assert [note.rpartition(": ")[2] for note in line.notes] == ["1 damaged", "wet"]
    assert first.later[code] == ("L02",)
    assert [one.code for one in first.short] == [code]
    assert [one.code for one in first.not_come] == [other]
    assert (second.begun, second.short) == (False, ())


def test_what_is_short_is_ordered_by_its_lead_counted_back_over_working_days() -> None:
    job = JobOnSite()
    job.write("ordered", code="B-120", quantity=10, level="L01")
    (first,) = goods(made(), job.record)
    product, needed_on = made().project.product("B-120"), first.needed_on
    line = next(line for line in made().order.lines if (line.code, line.level) == ("B-120", "L01"))
    assert product.lead_days
    assert needed_on
    assert first.lines[0].reorder_by == line.order_by


@pytest.mark.parametrize("issued", [None, 1])
def test_without_a_record_of_what_was_ordered_the_issued_order_counts(issued: int | None) -> None:
    document = {"revision": 1, "order": made().order.model_dump(mode="json", by_alias=True)}
    record = with_what_is_issued(JobOnSite().record, document if issued else None)
    found = goods(made(), record)
    ordered = {(level.level, line.code): line.ordered for level in found for line in level.lines}
    expected = {
        (line.level, line.code): line.packs * line.per_pack for line in made().order.lines if line.packs
    }
    assert ordered == (expected if issued else {})


def test_a_place_that_nobody_can_get_at_says_so_until_it_is_read() -> None:
    project = made().project
    gap = project.gaps[0]
    level = next(run.level for run in project.runs if run.run == gap.run)

    def sent(**reading: Any) -> KeptReadings:
        return KeptReadings(
            id="a", at="2027-03-01T08:00", by="surveyor", version=2, received_at="", received_by="",
            readings=[{"run": gap.run, "at_mm": gap.at_mm, **reading}],
        )  # fmt: skip

    hidden = sent(accessible=False, note="behind the hoist")
    (first, *_), *_ = (run.places for run in runs_to_measure(project, level, [hidden], []))
    assert first.said == "not accessible, 1 Mar, surveyor: behind the hoist"
    (first, *_), *_ = (
        run.places for run in runs_to_measure(project, level, [hidden, sent(gap_top_mm=150)], [])
    )
    assert first.said == ""


def test_the_survey_says_what_was_read_and_when() -> None:
    project = made().project
    gap = project.gaps[0]
    read = gap.model_copy(
        update={"gap_mm": 151, "gap_top_mm": 151, "gap_bottom_mm": 148, "taken_on": date(2027, 2, 1)}
    )
    survey = project.model_copy(update={"gaps": (read, *project.gaps[1:])})
    level = next(run.level for run in project.runs if run.run == gap.run)
    place = runs_to_measure(survey, level, [], [])[0].places[0]
    assert place.words == "151 (top 151, bottom 148, 1 Feb)"
