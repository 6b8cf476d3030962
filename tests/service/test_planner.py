"""How long a job's searches may take, and that a plan says where they were ended."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import pytest

from api.jobs.steps import Made, StepInput
from api.planner import run_step, search_limits
from api.plans.making import PlanOptions
from api.replans.making import BEFORE, RECORD
from optimiser import plan
from optimiser.planning.warnings import SEARCH_STOPPED
from optimiser.writing.data.plan_json import plan_json
from tests.builders.levels import building

REPLAN = {"staging": None, "time_limit": None, "seed": 0}


@pytest.mark.parametrize("kind", ["plan", "scenario"])
def test_a_search_that_was_set_no_limit_ends_after_the_usual_time_and_is_the_same_until_then(
    kind: str,
) -> None:
    assert search_limits(kind, {"time_limit": None, "seed": 1}, 120.0) == (
        {"time_limit": None, "seed": 1},
        120.0,
    )


def test_a_limit_that_was_set_stands_and_so_does_what_has_none() -> None:
    assert search_limits("plan", {"time_limit": 5}, 120.0) == ({"time_limit": 5}, None)
    assert search_limits("allowance", {"draws": 5}, 120.0) == ({"draws": 5}, None)


def test_the_searches_of_a_refit_share_the_usual_time() -> None:
    assert search_limits("refit", {"time_limit": None}, 120.0) == ({"time_limit": 120.0}, None)


def test_each_option_of_a_comparison_has_a_tenth() -> None:
    assert search_limits("comparison", {"time_limit": None}, 120.0) == ({"time_limit": 12.0}, None)


def planned(
    parameters: dict[str, Any], stop_after: float, made: dict[str, Made] | None = None, gap_mm: int = 150
) -> dict[str, Any]:
    project = building(gap_mm=gap_mm).model_dump_json(by_alias=True)
    work = StepInput("plan", "plan", project, parameters, made or {}, stop_after)
    found: dict[str, Any] = json.loads(run_step(work, progress=lambda event: None).document)
    return found


def test_the_service_plans_what_the_library_plans() -> None:
    found, expected = planned(asdict(PlanOptions()), 3600.0), json.loads(plan_json(plan(building())))
    for one in (*found["proofs"], *expected["proofs"]):
        one["solve_seconds"] = 0
    assert found == expected


def test_a_plan_whose_search_was_ended_says_so() -> None:
    found = planned(asdict(PlanOptions()), 0.0)
    assert found["warnings"][0] == SEARCH_STOPPED


def test_a_plan_of_the_rest_of_the_job_whose_search_was_ended_says_so() -> None:
    before = {BEFORE: Made(plan_json(plan(building()))), RECORD: Made("[]")}
    assert planned(REPLAN, 0.0, before, gap_mm=170)["warnings"][0] == SEARCH_STOPPED
    assert SEARCH_STOPPED not in planned(REPLAN, 3600.0, before, gap_mm=170)["warnings"]
