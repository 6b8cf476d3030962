"""By when a forecast level must be measured, so that what it needs can still be ordered for its delivery."""

from __future__ import annotations

from datetime import date

from optimiser.model.order import Order
from optimiser.model.project import Project
from optimiser.ordering.measuring_days import level_statuses, readings_too_old, with_measuring_days
from optimiser.ordering.order import order_for
from tests.ordering.test_order import AUSTRALIA, tower, with_nominal


def test_the_longest_lead_time_of_what_the_level_needs_is_counted_back_over_working_days() -> None:
    # delivery on Monday 22 February: 15 working days before is 1 February, 5 are 15 February
    project = with_nominal(tower(), "L01")
    day = date(2027, 2, 1)
    boards = order_for(project, {"L01": {"B-120": 4, "K-110": 9}}, {}, AUSTRALIA)
    brackets = order_for(project, {"L01": {"K-110": 9}}, {}, AUSTRALIA)
    for order in (boards, brackets):
        levels = level_statuses(project, order, AUSTRALIA)
        assert [(level.level, level.status, level.measure_by) for level in levels] == [
            ("L01", "forecast", day),
            ("L02", "firm", None),
            ("L03", "firm", None),
        ]
        assert {line.measure_by for line in with_measuring_days(order, levels).lines} == {day}


def test_a_level_without_a_date_has_no_day_to_measure_and_a_firm_line_none() -> None:
    project = with_nominal(tower(), "L02")
    order = order_for(project, {"L01": {"B-120": 1}, "L02": {"B-120": 1}}, {}, AUSTRALIA)
    levels = level_statuses(project, order, AUSTRALIA)
    assert (levels[1].status, levels[1].deliver_on, levels[1].measure_by) == ("forecast", None, None)
    assert {line.measure_by for line in with_measuring_days(order, levels).lines} == {None}


def test_a_level_whose_boards_are_there_already_is_measured_while_more_of_them_can_be_ordered() -> None:
    """What is measured may take more than what is on site or on order."""
    project = with_nominal(tower(), "L01")
    levels = level_statuses(project, Order(lines=(), total=0, currency="AUD"), AUSTRALIA)
    assert levels[0].deliver_on == date(2027, 2, 22)
    assert levels[0].measure_by == date(2027, 2, 1)


def test_a_level_whose_readings_are_too_old_when_it_is_needed_is_warned_of() -> None:
    """L01 is measured on 1 February at the latest and needed on the 22nd: its readings are 21 days old then."""
    project = with_nominal(tower(), "L01")
    levels = level_statuses(
        project, order_for(project, {"L01": {"B-120": 4}, "L02": {"B-120": 4}}, {}, AUSTRALIA), AUSTRALIA
    )

    def warned(allowed_days: int) -> tuple[str, ...]:
        detail = project.detail.model_copy(update={"reading_age_max_days": allowed_days})
        values = {name: getattr(project, name) for name in Project.model_fields}
        return tuple(readings_too_old(Project(**{**values, "detail": detail}), levels))

    assert warned(21) == ()
    (warning,) = warned(20)
    assert "older than its detail allows (reading_age_max_days) when it is needed: L01 (21 days)." in warning
