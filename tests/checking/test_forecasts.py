"""Every word of a plan about its forecast levels is judged: status, days, boards that are not ready, the cover."""

from __future__ import annotations

from functools import cache

import pytest

from optimiser.checking import broken_rules_of_plan
from optimiser.model.plan import Plan
from optimiser.model.project import Allowance
from optimiser.planning.plan import plan
from tests.builders.checking_examples import REMOVED, changed
from tests.builders.levels import building
from tests.ordering.test_order import with_nominal


@cache
def made() -> Plan:
    """Three levels, the last not measured."""
    rates = tuple(Allowance(kind=kind, fraction="0.05") for kind in ("board", "bracket", "anchor", "tape"))
    return plan(with_nominal(building(length_mm=9_600, allowance=rates), "L3"))


def test_the_plan_of_a_building_with_a_nominal_level_is_judged_good() -> None:
    found = made()
    assert broken_rules_of_plan(found) == []
    assert [level.status for level in found.levels] == ["firm", "firm", "forecast"]
    assert {layout.cut_ready for layout in found.layouts} == {True, False}
    assert found.forecast is not None
    for line in found.order.lines:
        assert line.status == ("forecast" if line.level == "L3" else "firm")
        assert line.measure_by == (found.levels[2].measure_by if line.level == "L3" else None)


def at(level: str, field: str, value: object) -> dict[str, object]:
    """A change of the first line of a level."""
    place = next(n for n, line in enumerate(made().order.lines) if line.level == level)
    return {f"order.lines.{place}.{field}": value}


FAULTS = {
    "a forecast level is firm": (
        lambda: {"levels.2.status": "firm"},
        "level L3: status must be forecast, but is firm",
    ),
    "no day to measure": (
        lambda: {"levels.2.measure_by": None},
        "level L3: measure_by must be 2027-02-22, but is None",
    ),
    "a forecast line is firm": (lambda: at("L3", "status", "firm"), "for L3: status must be forecast"),
    "a forecast line without its day": (
        lambda: at("L3", "measure_by", None),
        "measure_by must be 2027-02-22",
    ),
    "a nominal board is ready to cut": (
        lambda: {f"layouts.{len(made().layouts) - 1}.cut_ready": True},
        "cut_ready must be False, since level L3 is nominal, but is True",
    ),
    "the draws are not told": (lambda: {"forecast": None}, "the plan does not say how many draws it covers"),
    "another service level": (
        lambda: {"forecast.service_level": 0.9},
        "forecast: service_level must be 0.95, but is 0.9",
    ),
    "too few draws are covered": (
        lambda: {"forecast.covered": 284},
        "forecast: 284 of 300 draws are covered, but 285 must be at least",
    ),
    "another cost": (lambda: {"forecast.cost": "1.00"}, "at list prices, but it says 1.00"),
    "a bound above the cost": (lambda: {"forecast.least_cost": "99999.00"}, "least_cost must be 0 to cost"),
    "proved with a gap": (lambda: {"forecast.least_cost": "0.00"}, "proved is True, but least_cost is 0.00"),
    "a forecast below what the nominal gaps take": (
        lambda: at("L3", "needed", 1),
        "for L3: needed must be",
    ),
    "less than nothing on top": (
        lambda: at("L3", "allowance", -1),
        "must not be negative",
    ),
    "an allowance for breakage on the forecast's packs": (
        lambda: at("L3", "packs", 50),
        "for L3: packs must be",
    ),
    "a forecast line dropped": (
        lambda: {
            f"order.lines.{next(n for n, line in enumerate(made().order.lines) if line.level == 'L3')}": REMOVED
        },
        "for L3:",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_one_changed_word_of_the_forecast_is_found_and_named(fault: str) -> None:
    change, expected = FAULTS[fault]
    tables = changed(made().model_dump(mode="json"), change())
    broken = broken_rules_of_plan(Plan.model_validate(tables), made().project)
    assert any(expected in line for line in broken), broken


def test_a_nominal_gap_without_tolerance_leaves_nothing_to_draw_but_a_forecast() -> None:
    found = plan(with_nominal(building(), "L3", tolerance_mm=None))
    assert broken_rules_of_plan(found) == []
    assert (found.levels[2].status, found.forecast) == ("forecast", None)
    assert any("No tolerance on the nominal gaps of L3" in warning for warning in found.warnings)
