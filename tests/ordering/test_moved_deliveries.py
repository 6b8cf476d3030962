"""A delivery asked for on another day: what breaks with the plan's quantities, which days fit, and that the next plan,
made with the levels needed on those days, bears out what was said."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from optimiser.model.plan import Plan
from optimiser.model.project import Project
from optimiser.ordering.broken_limits import Judged, Kind
from optimiser.ordering.dated_plan import DatedPlan
from optimiser.ordering.fitting_days import FittingDay, Moved, fitting_days, plans_that_fit
from optimiser.planning.plan import plan
from optimiser.writing.words import limits_not_kept
from tests.builders.levels import week, weekly

TODAY = date(2027, 1, 4)


def planned(project: Project, staging: Any = "level") -> Plan:
    return plan(project, staging=staging, advise=False)


def dated(project: Project) -> DatedPlan:
    found = DatedPlan.of(planned(project))
    assert found is not None
    return found


def moved(found: DatedPlan, place: int, day: date, **more: Any) -> Moved:
    return Moved(found, found.planned, place, day, **{"today": TODAY, **more})


def kinds(asked: Moved) -> list[Kind]:
    return [broken.kind for broken in asked.judged().broken()]


def needed_as(found: DatedPlan, asked: Moved) -> Project:
    """The survey that is kept when the move is."""
    needs = found.changed_needs(asked.judged().dates)
    levels = tuple(
        level.model_copy(update={"needed_on": needs.get(level.level, level.needed_on)})
        for level in found.project.levels
    )
    return found.project.model_copy(update={"levels": levels})


def packs(made: Plan) -> Counter[str]:
    found: Counter[str] = Counter()
    for line in made.order.lines:
        found[line.code] += line.packs
    return found


def test_what_fits_moves_alone_and_is_needed_on_its_new_day() -> None:
    found = dated(weekly())
    asked = moved(found, 1, date(2027, 3, 10))
    assert kinds(asked) == []
    assert found.changed_needs(asked.judged().dates) == {"L2": date(2027, 3, 10)}
    again = planned(needed_as(found, asked))
    assert [one.deliver_on for one in again.deliveries] == [week(1), date(2027, 3, 10), week(3), week(4)]
    assert packs(again) == packs(found.plan)


def test_a_day_before_what_can_still_be_ordered_names_the_day_that_passed() -> None:
    project = weekly()
    slow = tuple(
        product.model_copy(update={"lead_days": 10}) if product.kind == "board" else product
        for product in project.products
    )
    found = dated(project.model_copy(update={"products": slow}))
    today = date(2027, 2, 12)  # two weeks and a day before the first Monday of the order
    assert kinds(moved(found, 0, week(1), today=today)) == []
    (late,) = moved(found, 0, date(2027, 2, 25), today=today).judged().broken()
    assert late.kind == "order date"
    assert late.says == "B-120 for L1 must be ordered by 2027-02-11 to come on 2027-02-25: 1 day ago."


def test_of_what_is_ordered_only_an_earlier_day_passes_an_order_date() -> None:
    project = weekly()
    slow = tuple(product.model_copy(update={"lead_days": 30}) for product in project.products)
    found = dated(project.model_copy(update={"products": slow}))
    today = date(2027, 2, 15)
    assert kinds(moved(found, 3, date(2027, 3, 23), today=today, ordered=True)) == []
    (late,) = moved(found, 3, date(2027, 3, 19), today=today, ordered=True).judged().broken()
    assert "would have had to be asked for" in late.says


@pytest.mark.parametrize(
    ("limits", "day", "says"),
    [
        ({"crane_days": tuple(week(n) for n in range(1, 5))}, date(2027, 3, 9), "it is no crane day"),
        ({}, date(2027, 3, 14), "it is no working day"),
        ({"delivery_weekday": "Monday"}, date(2027, 3, 10), "deliveries come every week on Monday"),
    ],
)
def test_a_day_on_which_no_delivery_comes_says_why(limits: dict[str, Any], day: date, says: str) -> None:
    (broken,) = moved(dated(weekly(**limits)), 1, day).judged().broken()
    assert (broken.kind, broken.days) == ("delivery day", (day,))
    assert f"No delivery comes on {day}: {says}" in broken.says


def test_two_deliveries_on_one_day_overfill_its_trucks_and_the_nearest_days_are_named() -> None:
    found = dated(weekly(truck_pallets=2, trucks_a_delivery=1))
    asked = moved(found, 1, week(1))
    (broken,) = asked.judged().broken()
    assert broken.kind == "truck"
    assert broken.says == f"2 truckloads come on {week(1)} for L1, L2, 1 more than the 1 of a day."
    assert [one.day for one in fitting_days(asked)] == [date(2027, 3, 2)]  # earlier, L2 is before L1
    assert fitting_days(asked)[0].left == ()


def test_storage_names_the_day_and_how_much_is_too_much() -> None:
    found = dated(weekly(site_storage_m2=5))
    asked = moved(found, 1, week(1))
    (broken,) = asked.judged().broken()
    assert (broken.kind, broken.days) == ("storage", (week(1),))
    assert "9.6 m2 of board stand on site on 2027-03-01, 4.6 m2 more than the 5 m2" in broken.says


def test_what_stands_on_site_is_steps_that_drop_on_the_morning_after_the_boards_are_cut() -> None:
    found = dated(weekly(storeys=2, site_storage_m2=5))
    steps = [(step.day, step.area_mm2) for step in found.steps(found.planned)]
    day = timedelta(days=1)
    assert [at for at, _ in steps] == [week(1), week(1) + day, week(2), week(2) + day]
    assert [area for _, area in steps] == [4_800_000, 0, 4_800_000, 0]


def test_a_delivery_alone_may_fall_below_the_minimum_order() -> None:
    found = dated(weekly(storeys=2, minimum_order=Decimal(300)))
    assert [(one.deliver_on, one.levels) for one in found.plan.deliveries] == [(week(1), ("L1", "L2"))]
    alone = dated(weekly(storeys=2))
    worth = dict.fromkeys((week(1), week(2)), alone.plan.deliveries[0].amount)
    limited = alone.plan.model_copy(
        update={"project": weekly(storeys=2, minimum_order=Decimal(300))}  # as if the limit were set since
    )
    known = DatedPlan.of(limited)
    assert known is not None
    (broken,) = Judged(known, known.planned, TODAY).broken()
    assert broken.kind == "minimum order"
    assert broken.much == sum(30_000 - int(amount * 100) for amount in worth.values())


def test_a_level_moved_before_the_one_under_it_runs_against_the_order_of_delivery() -> None:
    found = dated(weekly())
    asked = moved(found, 2, date(2027, 3, 5))
    assert kinds(asked) == ["delivery order"]
    assert "L3 is needed on 2027-03-05, before L2 on 2027-03-08" in asked.judged().broken()[0].says
    again = planned(needed_as(found, asked))
    assert any("The dates run against the delivery order" in warning for warning in again.warnings)


def test_a_level_whose_boards_come_with_an_earlier_one_is_not_fitted_before_it() -> None:
    project = weekly(storeys=2)
    boards = tuple(product.model_copy(update={"per_pack": 8}) for product in project.products)
    found = dated(project.model_copy(update={"products": boards}))
    assert [line.packs for line in found.plan.order.lines if line.code == "B-120"] == [1, 0]
    asked = moved(found, 0, date(2027, 3, 10))
    assert kinds(asked) == ["delivery order", "material"]
    assert "L2 is fitted from 2027-03-08 on, before its material" in asked.judged().broken()[1].says


@pytest.mark.slow
@pytest.mark.parametrize(
    "limits",
    [
        {"site_storage_m2": 6, "delivery_weekday": "Monday"},
        {"truck_pallets": 2, "trucks_a_delivery": 1},
        {"site_storage_m2": 12, "truck_pallets": 4, "trucks_a_delivery": 1, "combine": "fewest_loads"},
        {"minimum_order": Decimal(400), "site_storage_m2": 12},
        {"crane_days": (week(1), date(2027, 3, 4), date(2027, 3, 9), week(3), week(4))},
    ],
)
def test_where_nothing_breaks_the_next_plan_keeps_every_limit_with_as_many_packs(
    limits: dict[str, Any],
) -> None:
    found = dated(weekly(**limits))
    tried = 0
    for place in range(len(found.brought)):
        for asked_day in (
            found.day_of(found.planned, place) + timedelta(days=days) for days in (-4, 1, 3, 7)
        ):
            asked = moved(found, place, asked_day)
            days = (
                [asked_day] if not kinds(asked) else [one.day for one in fitting_days(asked) if not one.left]
            )
            for day in days[:1]:
                tried += 1
                again = planned(needed_as(found, moved(found, place, day)))
                assert limits_not_kept(again) == ()
                assert packs(again) == packs(found.plan)
                assert not any("run against" in warning for warning in again.warnings)
    assert tried >= 4


def test_where_something_breaks_whatever_the_day_one_is_named_on_which_no_more_does() -> None:
    project = weekly(site_storage_m2=4)  # every level's boards are more
    found = dated(project)
    assert [broken.kind for broken in Judged(found, found.planned, TODAY).broken()] == ["storage"]
    asked = moved(found, 3, week(3))
    (before, after) = (*fitting_days(asked), None, None)[:2]
    assert before is None or isinstance(before, FittingDay)
    named = [one for one in (before, after) if one]
    assert named
    assert all([broken.kind for broken in one.left] == ["storage"] for one in named)


def test_another_staging_is_named_where_nothing_of_its_plan_breaks() -> None:
    tight = weekly(storeys=2, site_storage_m2=5)
    roomy = weekly(storeys=2, site_storage_m2=50)
    plans = [("level", dated(tight)), ("whole", dated(roomy))]
    early = {"L2": week(1)}
    assert plans_that_fit(plans, {}, TODAY) == ("level", "whole")
    assert plans_that_fit(plans, early, TODAY) == ("whole",)


def test_without_a_day_for_every_level_nothing_can_be_moved() -> None:
    project = weekly()
    undated = (project.levels[0].model_copy(update={"needed_on": None}), *project.levels[1:])
    assert DatedPlan.of(planned(project.model_copy(update={"levels": undated}))) is None
