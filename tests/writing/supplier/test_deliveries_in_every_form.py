"""Loads, weights, what deliveries and storage cost beside its bound, and what the limits make impossible: in the
office's workbook, the calendar and on the terminal, under one name each."""

from __future__ import annotations

import pytest
from icalendar import Calendar

from optimiser.model.plan import Plan
from optimiser.planning.plan import plan
from optimiser.tables.delivery_costs import PROVED_MINIMUM, TOTAL
from optimiser.writing.office.level_chart import level_chart_svg
from optimiser.writing.office.workbook import office_xlsx
from optimiser.writing.supplier.calendar import delivery_calendar
from optimiser.writing.terminal.summary import show_plan
from optimiser.writing.words import limits_not_kept
from tests.builders.forecast import FORECAST, forecast_plan, forecast_project
from tests.builders.sheets import opened, table_of
from tests.builders.small_plan import small_plan

PLAN = forecast_plan()


@pytest.fixture(scope="module")
def too_small_a_site() -> Plan:
    """The same building on a site that cannot hold what a level needs."""
    return plan(forecast_project(site_storage_m2=1, stack_height_mm=None))


def flat(text: str) -> str:
    return "".join(text.split())


def test_the_workbook_says_it_too() -> None:
    book = opened(office_xlsx(PLAN))
    costs = PLAN.delivery_costs
    assert costs is not None
    head, *rows = book["Deliveries"].iter_rows(values_only=True)
    assert head[:9] == (
        "Level",
        "Delivery",
        "Deliver on",
        "Order by",
        "Status",
        "Measure by",
        "Loads",
        "Pallets",
        "Weight kg",
    )
    for row, delivery in zip(rows, PLAN.deliveries, strict=False):
        assert row[6:9] == (delivery.trucks, delivery.pallets, float(delivery.weight_kg or 0))
    sums = {row[0]: row[3] for row in rows if row[0]}
    assert sums[TOTAL] == float(costs.total)
    assert sums[PROVED_MINIMUM] == float(costs.lower_bound)
    assert (sums["Goods"], sums["Loads"], sums["Storage"]) == tuple(
        map(float, (costs.goods, costs.delivery, costs.storage))
    )
    site = table_of(book["On site"])
    assert site[0] == (
        "Day",
        "Level",
        "Board face m2",
        "Floor in stacks m2",
        "Weight kg",
        "Floor loading kg/m2",
        "Floor carries it",
    )
    assert len(site) == 1 + len(PLAN.on_site)
    assert "On site" not in opened(office_xlsx(small_plan())).sheetnames


@pytest.mark.slow
def test_what_a_limit_makes_impossible_and_what_would_fit_is_said_everywhere(
    too_small_a_site: Plan, capsys: pytest.CaptureFixture[str]
) -> None:
    impossible = limits_not_kept(too_small_a_site)
    assert any("site_storage_m2 = " in words for words in impossible), "what would fit"
    show_plan(too_small_a_site, None)
    terminal = flat(capsys.readouterr().out)
    sheet = opened(office_xlsx(too_small_a_site))["Said of the plan"]
    cells = [cell.value for row in sheet for cell in row]
    for words in impossible:
        assert flat(words) in terminal
        assert words in cells


def test_the_calendar_has_the_last_day_to_measure_each_forecast_level() -> None:
    entries = [part for part in Calendar.from_ical(delivery_calendar(PLAN)).walk() if part.name == "VEVENT"]
    measured = {entry["summary"]: entry["dtstart"].dt for entry in entries if "measure" in entry["summary"]}
    due = {level.level: level.measure_by for level in PLAN.levels if level.measure_by}
    assert set(due) == set(FORECAST)
    for level, day in due.items():
        assert [on for words, on in measured.items() if level in words] == [day]
    assert any("Status: forecast; measure by" in entry.get("description", "") for entry in entries)
    assert not any(
        "measure" in entry["summary"]
        for entry in Calendar.from_ical(delivery_calendar(small_plan())).walk("VEVENT")
    )


def test_the_chart_sets_forecast_levels_in_brackets() -> None:
    drawn = level_chart_svg(PLAN)
    assert all(f">({level})<" in drawn and f"{level}, forecast" in drawn for level in FORECAST)
    assert ">(L01)<" not in drawn
    assert "A level in brackets: a forecast, not measured yet." in drawn
    assert "in brackets" not in level_chart_svg(small_plan())


def test_no_date_on_the_terminal_is_cut_short(capsys: pytest.CaptureFixture[str]) -> None:
    show_plan(PLAN, None)
    said = capsys.readouterr().out
    assert "-\N{HORIZONTAL ELLIPSIS}" not in said
    for delivery in PLAN.deliveries:
        assert f"{delivery.deliver_on}" in said
