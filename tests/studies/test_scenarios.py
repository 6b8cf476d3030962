"""Scenarios: what each changes and nothing else, a judged plan each, what is not beaten, charts as steps."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from decimal import Decimal
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.checking import broken_rules_of_plan
from optimiser.errors.problems import CannotBeDone
from optimiser.model.offer import Offer, OfferedPrice
from optimiser.model.project import Board, Project
from optimiser.model.scenario import LIMITS, PricedScenario, Scenario
from optimiser.planning.plan import plan
from optimiser.studies.changed_project import changed_project
from optimiser.studies.scenario_result import (
    ScenarioComparison,
    ScenarioFigures,
    ScenarioResult,
    marked,
)
from optimiser.studies.scenarios import MOST_SCENARIOS, freight_of, plan_scenario, scenarios
from optimiser.writing.office.scenario_charts import cost_against_svg, gap_steps_svg
from optimiser.writing.office.scenario_files import scenarios_csv
from tests.builders.levels import building, weekly

SVG = "{http://www.w3.org/2000/svg}"


def figures(**given: Any) -> ScenarioFigures:
    usual = {
        "cost": "100.00", "goods": "100.00", "boards": 3, "lower_bound": 3, "proved": True, "scrap_mm2": 10,
        "scrap_fraction": 0.1, "waiting_pieces": 0, "waiting_piece_stages": 0, "remainders": 0, "deliveries": 2,
        "loads": None, "packs": 1, "widths": 1, "joints": 1, "brackets": 2, "lead_days": 5, "order_by": None,
        "last_delivery": None, "not_planned": 0, "scrapped_by_precutting": None, "warnings": (), "seconds": 0.1,
    }  # fmt: skip
    return ScenarioFigures.model_validate({**usual, **given})


def result(name: str, **given: Any) -> ScenarioResult:
    return ScenarioResult(scenario=Scenario(name=name), figures=figures(**given))


# -- what a scenario is


@st.composite
def drawn_scenarios(draw: st.DrawFn) -> Scenario:
    rate = st.decimals(0, 1, places=3)
    given: dict[str, Any] = {
        "name": draw(st.text(st.characters(codec="ascii", categories=["L"]), min_size=1, max_size=9))
    }
    options = {
        "gap_mm": st.integers(1, 2000),
        "runs": st.lists(st.sampled_from(["*-N", "L1-N"]), max_size=2),
        "oversize_max": rate,
        "boards": st.lists(st.sampled_from(["B-120", "B-100"]), max_size=2),
        "precut": st.booleans(),
        "kerf_mm": st.integers(0, 50),
        "truck_pallets": st.integers(1, 99),
        "minimum_order": st.decimals(0, 10**6, places=2),
        "crane_days": st.lists(st.dates(date(2027, 1, 1), date(2027, 12, 31)), max_size=2),
        "without": st.lists(st.sampled_from(["storage_cost", "combine"]), max_size=2),
        "staging": st.sampled_from(["whole", "carry", "level"]),
        "joint_rounds": st.integers(0, 20),
        "time_limit": st.floats(0.1, 600),
        "seed": st.integers(0, 2**31 - 1),
    }
    for option in draw(st.sets(st.sampled_from(sorted(options)))):
        given[option] = draw(options[option])
    return Scenario.model_validate(given)


@given(drawn_scenarios())
def test_a_scenario_equals_itself_after_a_round_trip(scenario: Scenario) -> None:
    assert Scenario.model_validate(scenario.model_dump()) == scenario
    assert Scenario.model_validate_json(scenario.model_dump_json()) == scenario
    priced = PricedScenario(scenario=scenario, on=date(2027, 1, 4))
    assert PricedScenario.model_validate_json(priced.model_dump_json()) == priced


def test_only_what_is_given_is_said_to_differ() -> None:
    assert Scenario(name="a").words == "as the project has it"
    found = Scenario(
        name="a", oversize_max="0.12", boards=("B-120", "B-100"), precut=True, without=("combine",)
    )
    assert found.words == "oversize_max 0.12, boards B-120 B-100, precut, without combine"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"oversize_min": 0.2, "oversize_max": 0.1},
            "oversize_min (0.2) is above oversize_max (0.1); swap them",
        ),
        ({"shifted": True}, "gap_mm is not given; give gap_mm"),
        ({"combine": "none", "without": ["combine"]}, "combine is given (none) and set aside by without"),
        (
            {"waiting_choice": 2, "carry_cost": "1.00"},
            "waiting_choice (2) is given together with carry_cost (1.00)",
        ),
        ({"gap_mm": 3000}, "gap_mm is 3000: it is too large; give at most 2000"),
        ({"crane_days": ["soon"]}, "crane_days is 'soon': it is no day; write it as 2027-03-01"),
        ({"carry_cost": "1.005"}, "carry_cost: '1.005' has parts of a cent"),
        ({"bracket": "x"}, "bracket is 'x': there is no such option; brackets was meant?"),
    ],
)
def test_options_that_make_no_sense_are_told_with_name_value_and_mend(
    given: dict[str, Any], words: str
) -> None:
    with pytest.raises(ValueError, match=re.escape(words)) as refused:
        Scenario.model_validate({"name": "odd one", **given})
    assert "scenario 'odd one'" in str(refused.value)


# -- what it changes


def test_nothing_given_changes_nothing() -> None:
    project = weekly(2, truck_pallets=4)
    assert changed_project(project, Scenario(name="as surveyed")) == project


def test_rules_limits_and_boards_are_changed_and_the_rest_stays() -> None:
    thin = Board(code="B-100", length_mm=1200, width_mm=1000, price="40.00")
    project = weekly(2, truck_pallets=4, delivery_cost="10.00")
    project = project.model_copy(update={"products": (*project.products, thin)})
    scenario = Scenario(
        name="other", oversize_max="0.2", boards=("B-100",), truck_pallets=2, max_carry_stages=1,
        without=("delivery_cost",),
    )  # fmt: skip
    found = changed_project(project, scenario)
    assert found.detail.oversize_max == Decimal("0.2")
    assert {run.board for run in found.runs} == {("B-100",)}
    (limits,) = found.deliveries
    assert (limits.truck_pallets, limits.delivery_cost) == (2, None)
    assert found.project.max_carry_stages == 1
    assert (found.levels, found.gaps, found.products) == (project.levels, project.gaps, project.products)


@pytest.mark.parametrize("limit", LIMITS)
def test_every_limit_can_be_set_aside(limit: str) -> None:
    days = (date(2027, 3, 1),)
    days_or_weeks = (
        {"crane_days": days} if limit == "crane_days" else {"delivery_weekday": "Monday", "every_days": 7}
    )
    project = weekly(
        2, truck_pallets=4, pallet_packs=2, trucks_a_delivery=2, combine="fewest_loads", minimum_order="1.00",
        delivery_cost="5.00", storage_cost="1.00", site_storage_m2=90, stack_layers=3, **days_or_weeks,
    )  # fmt: skip
    heading = project.project.model_copy(update={"max_carry_stages": 1, "carry_cost": Decimal("2.00")})
    project = project.model_copy(update={"project": heading})
    without = {limit, "trucks_a_delivery"} if limit == "truck_pallets" else {limit}
    found = changed_project(project, Scenario(name="free", without=tuple(sorted(without))))
    there: Any = found.project if hasattr(found.project, limit) else found.deliveries[0]
    assert getattr(there, limit) in (None, (), "none")


def test_faults_of_all_scenarios_are_told_at_once() -> None:
    wanted = [
        Scenario(name="a", boards=("B-9",)),
        Scenario(name="a", runs=("X-*",), brackets=("K-9",)),
        Scenario(name="b", truck_payload_kg=100),
        Scenario(name="c", supplier="Nobody"),
    ]
    with pytest.raises(CannotBeDone) as refused:
        scenarios(building(), wanted)
    told = "\n".join(refused.value.reasons)
    for words in (
        "scenario 'a', name: it stands 2 times; give each its own",
        "scenario 'a', boards: B-9 is no board of the products; give one of B-120",
        "scenario 'a', runs: no run is called X-*",
        "scenario 'a', brackets: K-9 is no bracket of the products; give one of K-30",
        "scenario 'b', truck_payload_kg: a limit in kg is given, but the board B-120 has no weight_kg",
        "scenario 'c', supplier: there is no offer of 'Nobody'",
    ):
        assert words in told
    with pytest.raises(CannotBeDone, match="give 1 to 24 at a time"):
        scenarios(building(), [Scenario(name=f"{n}") for n in range(MOST_SCENARIOS + 1)])


# -- what it comes to


def compared() -> tuple[Project, ScenarioComparison]:
    project = building()
    wanted = [
        Scenario(name="as surveyed"),
        Scenario(name="level", staging="level"),
        Scenario(name="wide gap", gap_mm=151),
        Scenario(name="nothing fits", gap_mm=1000),
    ]
    return project, scenarios(project, wanted)


def test_each_scenario_has_the_figures_of_its_plan_which_keeps_its_rules() -> None:
    project, found = compared()
    for one in found.results[:3]:
        made = plan_scenario(project, one.scenario)
        changed = changed_project(project, one.scenario)
        assert broken_rules_of_plan(made, changed) == []
        assert made.pieces == plan(changed, staging=one.scenario.staging).pieces
        assert one.figures is not None
        assert one.figures.goods == made.order.total
        assert one.figures.boards == sum(proof.boards for proof in made.proofs)
        assert one.figures.scrap_mm2 == made.waste.scrap_mm2
        assert f"the scenario '{one.scenario.name}'" in made.warnings[0]
    whole, level, wide, nothing = found.results
    assert whole.figures
    assert level.figures
    assert wide.figures
    assert (whole.figures.boards, level.figures.boards, wide.figures.boards) == (1, 3, 2)
    assert (whole.figures.waiting_piece_stages, level.figures.waiting_piece_stages) == (6, 0)
    assert nothing.figures is None
    assert "nothing can be planned" in nothing.problem
    assert nothing.best == nothing.unbeaten == ()


def test_the_comparison_equals_itself_after_a_round_trip_and_is_a_frame_and_a_csv() -> None:
    _, found = compared()
    assert ScenarioComparison.model_validate(found.model_dump()) == found
    assert ScenarioComparison.model_validate_json(found.model_dump_json()) == found
    frame = found.to_frame()
    assert list(frame["boards"])[:3] == [1, 3, 2]
    rows = list(csv.DictReader(io.StringIO(scenarios_csv(found))))
    assert list(rows[0]) == list(frame.columns)
    assert [row["scenario"] for row in rows] == ["as surveyed", "level", "wide gap", "nothing fits"]
    assert rows[3]["cost"] == ""
    assert rows[1]["changes"] == "staging level"


def test_a_plan_is_started_only_of_what_was_surveyed() -> None:
    assert Scenario(name="a", staging="level", oversize_max="0.12").not_plannable == ""
    assert "nothing may be cut to it" in Scenario(name="a", gap_mm=150).not_plannable
    assert "the whole building" in Scenario(name="a", runs=("*-N",)).not_plannable


def test_prices_of_an_offer_and_its_freight_count() -> None:
    project = building()
    offer = Offer(
        supplier="Second Supplier (invented)", currency="AUD", freight="45.00", freight_free_from="1000.00",
        prices=(OfferedPrice(code="B-120", price="10.00", lead_days=3),),
    )  # fmt: skip
    scenario = Scenario(name="offered", supplier=offer.supplier)
    found = scenarios(project, [Scenario(name="own"), scenario], offers=[offer], on=date(2027, 1, 4))
    own, offered = (one.figures for one in found.results)
    assert own
    assert offered
    assert own.goods - offered.goods == Decimal("43.00")  # one board at 10.00 instead of 53.00
    assert offered.cost - offered.goods == Decimal("45.00")
    made = plan_scenario(project, scenario, [offer], date(2027, 1, 4))
    free = offer.model_copy(update={"freight_free_from": Decimal("10.00")})
    assert freight_of(made, free) == 0


def test_pre_cutting_tells_what_it_is_expected_to_scrap() -> None:
    base = building(storeys=1)
    gaps = tuple(gap.model_copy(update={"basis": "nominal", "tolerance_mm": 10}) for gap in base.gaps)
    project = base.model_copy(update={"gaps": gaps})
    found = scenarios(
        project, [Scenario(name="on site"), Scenario(name="precut", precut=True, kerf_mm=3)], draws=50
    )
    on_site, precut = (one.figures for one in found.results)
    assert on_site
    assert precut
    assert on_site.scrapped_by_precutting is None
    assert precut.scrapped_by_precutting is not None
    assert precut.scrapped_by_precutting > 0


# -- the best and what is not beaten


def test_the_best_of_each_figure_is_marked_and_none_where_all_are_alike() -> None:
    found = list(marked([result("a", cost="90.00", boards=4), result("b", boards=3), result("c", boards=3)]))
    assert [one.best for one in found] == [("cost",), ("boards",), ("boards",)]
    assert found[0].best_words == ("least cost",)


def test_what_cannot_be_built_whole_takes_no_part() -> None:
    partly = result("partly", cost="1.00", not_planned=2)
    found = list(marked([partly, result("a"), result("b", cost="120.00")]))
    assert [one.best for one in found] == [(), ("cost",), ()]
    assert [bool(one.unbeaten) for one in found] == [False, True, False]


def test_without_prices_nothing_is_cheapest() -> None:
    found = list(marked([result("a", cost="0.00"), result("b", cost="5.00", boards=2)]))
    assert [one.best for one in found] == [(), ("boards",)]
    assert found[0].unbeaten == ()


@given(st.lists(st.tuples(st.integers(1, 6), st.integers(0, 6), st.integers(1, 4)), min_size=1, max_size=8))
def test_the_frontier_is_what_no_other_beats(drawn: list[tuple[int, int, int]]) -> None:
    results = [
        result(f"{place}", cost=f"{cost}.00", waiting_piece_stages=waiting, deliveries=deliveries)
        for place, (cost, waiting, deliveries) in enumerate(drawn)
    ]
    for one, (cost, waiting, deliveries) in zip(marked(results), drawn, strict=True):
        beaten = any(c <= cost and w <= waiting and (c, w) != (cost, waiting) for c, w, _ in drawn)
        assert ("waiting_piece_stages" in one.unbeaten) == (not beaten)
        beaten = any(c <= cost and d <= deliveries and (c, d) != (cost, deliveries) for c, _, d in drawn)
        assert ("deliveries" in one.unbeaten) == (not beaten)


# -- drawn


def test_scrap_is_drawn_as_steps_and_never_as_a_slope() -> None:
    gaps = [
        ScenarioResult(scenario=Scenario(name=f"{gap}", gap_mm=gap), figures=figures(scrap_fraction=share))
        for gap, share in ((148, 0.04), (150, 0.02), (152, 0.17))
    ]
    found = ScenarioComparison(results=(*gaps, result("as surveyed")), currency="AUD")
    root = ElementTree.fromstring(gap_steps_svg(found, "Example House (invented)"))
    (line,) = [one for one in root.iter(f"{SVG}polyline") if one.get("class") == "scenario-steps"]
    points = [tuple(map(float, point.split(","))) for point in (line.get("points") or "").split()]
    assert len(points) == 6
    for (x, y), (next_x, next_y) in pairwise(points):
        assert x == next_x or y == next_y
    assert len([one for one in root.iter(f"{SVG}circle") if one.get("class") == "compared"]) == 3
    assert gap_steps_svg(ScenarioComparison(results=(result("a"), gaps[0]), currency="AUD"), "") == ""


def test_the_frontier_is_drawn_filled_and_what_is_beaten_hollow() -> None:
    results = tuple(
        marked([result("a"), result("b", cost="120.00"), result("c", cost="80.00", waiting_piece_stages=4)])
    )
    found = ScenarioComparison(results=results, currency="AUD")
    root = ElementTree.fromstring(cost_against_svg(found, "waiting_piece_stages", "Example House (invented)"))
    drawn = [one for one in root.iter(f"{SVG}circle") if one.get("class") == "scenario"]
    assert [one.get("fill") for one in drawn].count("#ffffff") == 1
    assert len(drawn) == 3
    told = root.findtext(f"{SVG}desc") or ""
    assert "b: AUD 120.00, 0 waiting, pieces times deliveries;" in told
    assert "c: AUD 80.00, 4 waiting, pieces times deliveries, not beaten" in told
