"""A limit that cannot be kept is told once, with what would keep it; what is named does keep it."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from optimiser.model.plan import Plan
from optimiser.model.project import DeliveryLimits, Project
from optimiser.planning.plan import plan
from tests.builders.levels import building, week, weekly


def told(made: Plan) -> list[str]:
    return [warning for warning in made.warnings if warning.startswith("Deliveries")]


def with_limits(project: Project, **changes: Any) -> Project:
    (limits,) = project.deliveries
    return project.model_copy(update={"deliveries": (limits.model_copy(update=changes),)})


def needed_on(project: Project, **days: date) -> Project:
    levels = tuple(
        level.model_copy(update={"needed_on": days.get(level.level, level.needed_on)})
        for level in project.levels
    )
    return project.model_copy(update={"levels": levels})


def test_many_days_above_the_storage_are_one_warning_with_a_storage_that_holds() -> None:
    project = weekly(site_storage_m2=4)
    (warning,) = told(plan(project, staging="level"))
    assert "It is exceeded on 4 days in all, also on 2027-03-08, 2027-03-15, 2027-03-22." in warning
    found = re.search(r"site_storage_m2 = (\d+)", warning)
    assert found
    assert found[1] == "5"
    assert told(plan(with_limits(project, site_storage_m2=5), staging="level")) == []


def test_two_levels_on_one_day_name_the_later_day_that_would_fit() -> None:
    project = needed_on(weekly(site_storage_m2=5), L2=week(1))
    (warning,) = told(plan(project, staging="level"))
    assert "9.6 m2 of board stand on site, 4.6 m2 more" in warning
    named = "with L2 needed on 2027-03-02 instead of 2027-03-01 (and every later level as many days later)"
    assert named in warning
    later = needed_on(project, L2=date(2027, 3, 2), L3=date(2027, 3, 16), L4=date(2027, 3, 23))
    assert told(plan(later, staging="level")) == []


def test_a_further_crane_day_is_named_where_it_would_fit() -> None:
    project = weekly(site_storage_m2=5, crane_days=(week(1), week(3), week(4)))
    (warning,) = told(plan(project, staging="level"))
    assert "with a crane day on 2027-03-08 as well" in warning
    more = with_limits(project, crane_days=tuple(week(n) for n in range(1, 5)))
    assert told(plan(more, staging="level")) == []


def test_a_level_before_the_first_crane_day_names_both_days_that_would_fit() -> None:
    (warning,) = told(plan(weekly(crane_days=(date(2027, 3, 5), date(2027, 3, 20))), staging="level"))
    assert "A crane day on or before 2027-03-01 would serve, or needed_on from 2027-03-05 on." in warning


def test_a_staging_that_keeps_the_storage_is_named_and_keeps_it() -> None:
    """Every level needs half a board: 'level' leaves the other half of each to stand for those that follow."""
    base = building(storeys=6, gap_mm=150, length_mm=3600, deliveries=(DeliveryLimits(site_storage_m2=2),))
    products = tuple(
        product.model_copy(update={"per_pack": 1}) if product.kind == "board" else product
        for product in base.products
    )
    days = {f"L{n}": week(n) for n in range(1, 7)}
    project = needed_on(base.model_copy(update={"products": products}), **days)
    (warning,) = told(plan(project, staging="level"))
    for fitting in ("carry", "whole"):
        assert f"with staging '{fitting}' (at most 1.2 m2)" in warning
    assert told(plan(project, staging="whole")) == []
    assert told(plan(project, staging="carry")) == []
    tighter = with_limits(project, site_storage_m2=1)
    (warning,) = told(plan(tighter, staging="level"))
    assert (
        "It would hold with staging 'carry' and site_storage_m2 = 2, or with site_storage_m2 = 5." in warning
    )


def test_with_a_time_limit_no_other_staging_is_tried() -> None:
    project = weekly(site_storage_m2=4)
    (warning,) = told(plan(project, staging="whole", time_limit=20))
    assert "staging" not in warning


def test_small_orders_are_one_warning_with_the_minimum_that_holds() -> None:
    project = weekly(minimum_order="300.00", site_storage_m2=5)
    (warning,) = told(plan(project, staging="level"))
    assert "comes to AUD 200.00, AUD 100.00 below the minimum order of AUD 300.00." in warning
    assert "4 deliveries are below it in all" in warning
    assert "It would hold with minimum_order = 200.00." in warning
    assert told(plan(weekly(minimum_order="200.00", site_storage_m2=5), staging="level")) == []
