"""Nominal levels are a forecast: ordered, never cut ahead, and no measured level relies on their boards."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, reject, settings

from optimiser.boards.forecast_levels import forecast_levels, solve_forecast_levels_separately
from optimiser.checking import broken_rules_of_plan
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve
from optimiser.errors.problems import CannotBeDone
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import BoardCount, PlannedPattern
from optimiser.model.project import Gap, Project, Stock
from optimiser.planning.plan import plan
from tests.builders.levels import STAGINGS, building
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects


def with_nominal(project: Project, *levels: str) -> Project:
    """The project with every gap of some levels still nominal."""
    runs = {run.run for run in project.runs if run.level in levels}
    gaps = tuple(
        gap.model_copy(update={"basis": "nominal", "tolerance_mm": 12}) if gap.run in runs else gap
        for gap in project.gaps
    )
    return project.model_copy(update={"gaps": gaps})


def levels_on(layout: PlannedPattern, made: Plan) -> set[str]:
    level_of = {piece.id: piece.level for piece in made.pieces}
    return {level_of[piece.id] for strip in layout.strips for piece in strip.pieces}


def test_a_nominal_level_is_cut_from_its_own_delivery_only() -> None:
    assert plan(building()).boards["B-120"].count == 1
    found = plan(with_nominal(building(), "L3"))
    assert found.boards["B-120"] == BoardCount(count=2, lower_bound=2, optimal=True)
    assert {frozenset(levels_on(layout, found)) for layout in found.layouts} == {
        frozenset({"L1", "L2"}),
        frozenset({"L3"}),
    }


def test_one_nominal_gap_makes_the_whole_level_a_forecast() -> None:
    project = building(gaps=(*building().gaps, Gap(run="L2-N", at_mm=2400, gap_mm=150, basis="nominal")))
    found = plan(project)
    assert forecast_levels(found.project) == {"L2"}
    assert all(len(levels_on(layout, found)) == 1 for layout in found.layouts if layout.stage == 20)


def test_stock_serves_a_nominal_level_when_its_time_comes() -> None:
    stock = (Stock(code="B-120", length_mm=1200, width_mm=1000, quantity=1, level="L1"),)
    found = plan(with_nominal(building(stock=stock), "L1", "L2", "L3"))
    assert found.boards["B-120"] == BoardCount(count=2, lower_bound=2, optimal=True)
    measured = plan(building(stock=stock))
    assert measured.boards["B-120"].count == 0


def test_the_bound_holds_whoever_gets_the_stock() -> None:
    """Two forecast deliveries want the same offcut; each alone could do without a board, both cannot."""
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [
                {
                    "id": f"P{stage}",
                    "length_mm": 1200,
                    "width_min_mm": 300,
                    "width_max_mm": 310,
                    "stage": stage,
                }
                for stage in (1, 2)
            ],
            "offcuts": [{"id": "F", "length_mm": 1200, "width_mm": 320}],
        }
    )
    found = solve_forecast_levels_separately(problem, {"P1", "P2"}, lambda part, _: solve(part), None)
    assert (found.boards, found.lower_bound, found.optimal) == (1, 0, False)


def strips(stage: int, number: int, width_mm: int = 300) -> dict[str, object]:
    """So many pieces, as long as the board."""
    return {
        "id": f"P{stage}",
        "length_mm": 1200,
        "width_min_mm": width_mm,
        "width_max_mm": width_mm,
        "quantity": number,
        "stage": stage,
    }


def test_a_time_limit_is_shared_out_by_the_kinds_of_pieces() -> None:
    """Two kinds are measured, one is needed for either forecast delivery: half of the time, then a quarter each."""
    problem = CuttingProblem.model_validate(
        {
            "board": {"length_mm": 1200, "width_mm": 1000},
            "pieces": [strips(1, 1), strips(1, 2, 200) | {"id": "other"}, strips(2, 1), strips(3, 1)],
        }
    )
    limits: list[float | None] = []

    def search(part: CuttingProblem, seconds: float | None) -> CuttingResult:
        limits.append(seconds)
        return solve(part)

    solve_forecast_levels_separately(problem, {"P2", "P3"}, search, 8.0)
    assert limits == [4.0, 2.0, 2.0]


def test_stock_too_small_to_serve_leaves_every_delivery_its_own_bound_in_money() -> None:
    """Two deliveries of three strips, a board each at 200 cents; the offcut, worth a board at the most, is too narrow
    for any. So no plan costs less than both boards."""
    problem = CuttingProblem.model_validate(
        {
            "boards": [
                {"code": "L", "length_mm": 1200, "width_mm": 1000, "price_cents": 200},
                {"code": "S", "length_mm": 1200, "width_mm": 500, "price_cents": 150},
            ],
            "pieces": [strips(1, 3), strips(2, 3)],
            "offcuts": [{"id": "F", "length_mm": 1200, "width_mm": 299, "code": "L"}],
        }
    )
    found = solve_forecast_levels_separately(problem, {"P2"}, lambda part, _: solve(part), None)
    assert (found.cost_cents, found.lower_bound_cents, found.boards, found.lower_bound) == (400, 400, 2, 2)
    assert found.optimal


@pytest.mark.parametrize("staging", STAGINGS)
def test_the_judge_finds_a_forecast_that_is_cut_ahead(staging: str) -> None:
    found = plan(building())
    nominal = found.model_copy(
        update={
            "project": with_nominal(building(), "L2"),
            "pieces": tuple(
                piece.model_copy(update={"basis": "nominal"}) if piece.level == "L2" else piece
                for piece in found.pieces
            ),
        }
    )
    broken = "\n".join(broken_rules_of_plan(nominal))
    assert "level L2 is nominal, so nothing of it is cut before its own delivery" in broken
    assert "is measured, but relies on a board of the nominal level L2" in broken
    assert broken_rules_of_plan(plan(nominal.project, staging=staging)) == []  # type: ignore[arg-type]


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(max_runs=4, longest_run_mm=5000))
def test_no_random_plan_cuts_a_forecast_ahead(project: Project) -> None:
    try:
        found = quick_plan(project)
    except CannotBeDone:  # nothing of it can be planned
        reject()
    nominal = forecast_levels(found.project)
    sequence = {level.level: level.sequence for level in project.levels}
    for layout in found.layouts:
        levels = levels_on(layout, found)
        if levels & nominal:
            assert levels <= nominal
            assert {sequence[level] for level in levels} == {layout.stage}
