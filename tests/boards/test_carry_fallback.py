"""Carrying between deliveries is never worse than cutting each of them by itself."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings

from optimiser.boards.carry_fallback import bound_apart, with_independent_stage_fallback
from optimiser.checking import broken_rules_of_plan, broken_rules_of_result
from optimiser.cutting.problem import Board, CuttingProblem, CuttingResult, Objective, Piece
from optimiser.cutting.solve import proved_bound, solve
from optimiser.errors.problems import CannotBeDone
from optimiser.model.project import Project
from tests.builders.quick_plans import quick_plan
from tests.builders.random_projects import projects


def two_deliveries(carry: int | None = 1, boards: int = 1) -> CuttingProblem:
    """Six strips of 165 mm a delivery: each fills its own board."""
    return CuttingProblem(
        boards=tuple(
            Board(code=f"B-{number}", length_mm=1200, width_mm=1000, price_cents=1 if boards == 1 else 100)
            for number in range(1, boards + 1)
        ),
        pieces=tuple(
            Piece(id=f"P{stage}", length_mm=1200, width_min_mm=165, width_max_mm=172, quantity=6, stage=stage)
            for stage in (1, 2)
        ),
        max_carry_stages=carry,
        objective=Objective.LEAST_COST if boards > 1 else Objective.FEWEST_BOARDS,
    )


def lazy_when_carrying(told: list[int | None]) -> Callable[[CuttingProblem, float | None], CuttingResult]:
    """A search that cuts every piece from a board of its own as soon as carrying is allowed, and says no more."""

    def search(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        told.append(problem.max_carry_stages)
        found = solve(problem)
        if problem.max_carry_stages == 0:
            return found
        layouts = tuple(
            layout.model_copy(update={"strips": (strip,), "stage": piece.stage})
            for piece in problem.pieces
            for layout in found.layouts
            for strip in layout.strips
            if strip.pieces[0].id == piece.id
        )
        worse = {"boards": 12, "layouts": layouts, "optimal": False, "boards_by_stage": {"1": 6, "2": 6}}
        if found.cost_cents is not None:
            worse |= {"cost_cents": 1200, "boards_by_code": {"B-1": 12}}
        return found.model_copy(update=worse)

    return search


@pytest.mark.parametrize("boards", [1, 2])
def test_deliveries_by_themselves_are_taken_where_carrying_found_worse(boards: int) -> None:
    told: list[int | None] = []
    problem = two_deliveries(boards=boards)
    found = with_independent_stage_fallback(lazy_when_carrying(told))(problem, None)
    assert told == [1, 0]
    assert (found.boards, found.lower_bound, found.optimal) == (2, 2, True)
    assert broken_rules_of_result(found, problem) == []


def test_a_proved_plan_is_not_cut_twice() -> None:
    asked: list[int | None] = []

    def search(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        asked.append(problem.max_carry_stages)
        return solve(problem)

    assert with_independent_stage_fallback(search)(two_deliveries(), None).boards == 2
    assert asked == [1]


@pytest.mark.parametrize("carry", [0, None])
def test_other_stagings_are_left_as_they_are(carry: int | None) -> None:
    told: list[int | None] = []
    with_independent_stage_fallback(lazy_when_carrying(told))(two_deliveries(carry), None)
    assert told == [carry]


def test_a_time_limit_is_shared() -> None:
    limits: list[float | None] = []

    def search(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
        limits.append(seconds)
        return lazy_when_carrying([])(problem, seconds).model_copy(update={"solve_seconds": 2.0})

    found = with_independent_stage_fallback(search)(two_deliveries(), 10.0)
    assert limits == [6.0, 8.0]
    assert found.solve_seconds == 4.0


def test_the_bound_of_deliveries_by_themselves_is_rounded_up_for_each() -> None:
    halves = two_deliveries().model_copy(
        update={
            "pieces": tuple(piece.model_copy(update={"quantity": 3}) for piece in two_deliveries().pieces)
        }
    )
    assert (bound_apart(halves), proved_bound(halves.model_copy(update={"max_carry_stages": None}))) == (2, 1)


@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
@given(projects(max_runs=5, longest_run_mm=6000))
def test_a_carried_plan_costs_no_more_than_deliveries_by_themselves(project: Project) -> None:
    heading = project.project.model_copy(update={"max_carry_stages": 1})
    several = project.model_copy(update={"project": heading})
    try:
        carried, apart = quick_plan(several, staging="carry"), quick_plan(several, staging="level")
    except CannotBeDone:
        return
    assert broken_rules_of_plan(carried) == []
    for here, there in zip(carried.proofs, apart.proofs, strict=True):
        if len(here.codes) == 1:
            assert here.boards <= there.boards
        elif all(project.product(code).price for code in here.codes):
            assert here.cost_cents <= there.cost_cents
