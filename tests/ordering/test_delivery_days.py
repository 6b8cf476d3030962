"""The days on which deliveries may come: a weekday, every so many days, at most so many trucks on each."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.model.project import DeliveryLimits
from optimiser.ordering.delivery_days import DeliveryDays
from optimiser.ordering.working_days import working_days_of
from optimiser.planning.plan import plan
from tests.builders.levels import week, weekly


def planned(**limits: Any) -> Plan:
    return plan(weekly(**limits), staging="level")


def days_of(made: Plan) -> list[date | None]:
    return [delivery.deliver_on for delivery in made.deliveries]


@pytest.mark.parametrize(
    ("limits", "day", "found"),
    [
        ({}, date(2027, 3, 7), date(2027, 3, 5)),
        ({"delivery_weekday": "Tuesday"}, date(2027, 3, 8), date(2027, 3, 2)),
        ({"every_days": 7}, date(2027, 3, 10), date(2027, 3, 8)),  # Mondays, since the first is one
        ({"every_days": 14}, date(2027, 3, 14), date(2027, 3, 1)),
        ({"every_days": 14}, date(2027, 2, 28), date(2027, 2, 15)),
        ({"every_days": 14, "delivery_weekday": "Friday"}, date(2027, 3, 12), date(2027, 3, 12)),
        ({"delivery_weekday": "Monday"}, date(2027, 4, 2), date(2027, 3, 25)),  # Easter
        ({"delivery_weekday": "Sunday"}, date(2027, 3, 7), date(2027, 3, 5)),
        ({"crane_days": (date(2027, 3, 4),)}, date(2027, 3, 9), date(2027, 3, 4)),
        ({"crane_days": (date(2027, 3, 4),)}, date(2027, 3, 3), None),
    ],
)  # fmt: skip
def test_the_last_day_in_time(limits: dict[str, Any], day: date, found: date | None) -> None:
    days = DeliveryDays.of(DeliveryLimits(**limits), working_days_of("AU"), week(1))
    assert days.on_or_before(day) == found


def test_weekly_within_one_truck() -> None:
    """A level's two packs are a truck; two levels fall due on the first Friday, so one's boards come a week early."""
    project = weekly(every_days=7, delivery_weekday="Friday", trucks_a_delivery=1, truck_pallets=2)
    together = project.model_copy(
        update={
            "levels": tuple(
                level.model_copy(update={"needed_on": week(1)}) if level.level == "L2" else level
                for level in project.levels
            )
        }
    )
    made = plan(together, staging="level")
    boards = [(line.deliver_on, line.level) for line in made.order.lines if line.code == "B-120"]
    fridays = [date(2027, 2, 19), date(2027, 2, 26), date(2027, 3, 12), date(2027, 3, 19)]
    assert boards == list(zip(fridays, ("L1", "L2", "L3", "L4"), strict=True))
    assert {delivery.trucks for delivery in made.deliveries} == {1}
    assert not any("Deliveries" in warning for warning in made.warnings)


def test_one_truck_a_day_comes_on_the_working_days_before() -> None:
    project = weekly(trucks_a_delivery=1, truck_pallets=2)
    same_day = project.model_copy(
        update={"levels": tuple(level.model_copy(update={"needed_on": week(2)}) for level in project.levels)}
    )
    made = plan(same_day, staging="level")
    assert days_of(made) == [date(2027, 3, n) for n in (3, 4, 5, 8)]
    assert {delivery.trucks for delivery in made.deliveries} == {1}


def test_a_line_that_no_truck_holds_names_the_number_that_would_bring_it() -> None:
    made = planned(trucks_a_delivery=1, truck_pallets=1)
    (told,) = [warning for warning in made.warnings if "trucks_a_delivery" in warning]
    assert "takes 2 truckloads, more than the 1 of trucks_a_delivery. There are more on 4 days in all" in told
    assert "It would hold with trucks_a_delivery = 2." in told
    held = planned(trucks_a_delivery=2, truck_pallets=1)
    assert not any("Deliveries" in warning for warning in held.warnings)


def test_a_delivery_brings_what_its_levels_cut_next_unless_combining_is_chosen() -> None:
    assert days_of(planned(truck_pallets=8)) == [week(n) for n in range(1, 5)]
    assert days_of(planned(truck_pallets=8, combine="fewest_loads")) == [week(1)]


def test_the_judge_knows_the_days() -> None:
    made = planned(every_days=7, delivery_weekday="Monday")
    assert broken_rules_of_plan(made) == []
    tuesdays = made.project.model_copy(
        update={"deliveries": (DeliveryLimits(every_days=7, delivery_weekday="Tuesday"),)}
    )
    wrong = made.model_copy(update={"project": tuesdays})
    assert "which is none of the days on which deliveries come" in "\n".join(broken_rules_of_plan(wrong))
    silent = planned(trucks_a_delivery=1, truck_pallets=1)
    silent = silent.model_copy(update={"warnings": tuple(w for w in silent.warnings if "trucks" not in w)})
    assert "it takes 2 truckloads, more than 1, and no warning says so" in "\n".join(
        broken_rules_of_plan(silent)
    )
