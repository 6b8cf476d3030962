"""Whose job is next."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from api.jobs.turns import expected_seconds, is_short, next_turn

MOMENT = datetime(2027, 2, 1, 8, tzinfo=UTC)
COMPARISON: dict[str, Any] = {"from_mm": 120, "to_mm": 180, "step_mm": 5}


def _turns(asked: list[tuple[str, float, float]]) -> list[tuple[int, str]]:
    """The turns of jobs by (company, seconds after MOMENT, expected seconds), none of which has ended."""
    last: dict[str, int] = {}
    turns = []
    for company, at, seconds in asked:
        last[company] = next_turn(last.get(company), seconds, MOMENT + timedelta(seconds=at))
        turns.append((last[company], company))
    return turns


def test_a_short_plan_comes_before_long_jobs_that_were_asked_for_before_it() -> None:
    long = expected_seconds("comparison", COMPARISON, 10_000)
    short = expected_seconds("plan", {}, 1_700)
    turns = _turns([*[("north", 0.0, long)] * 6, ("south", 5.0, short)])
    assert min(turns) == turns[-1]
    assert is_short("plan", short)
    assert not is_short("comparison", short)


def test_of_two_companies_neither_waits_for_all_that_the_other_asked_for() -> None:
    turns = sorted(_turns([("north", 0.0, 10.0)] * 20 + [("south", 0.0, 10.0)] * 20))
    served = [company for _, company in turns]
    for place in range(1, 40):
        assert abs(served[:place].count("north") - served[:place].count("south")) <= 1


@given(st.floats(1, 3600), st.floats(1, 60))
def test_whoever_asks_for_short_jobs_all_the_time_starves_no_long_one(long: float, short: float) -> None:
    waiting = next_turn(None, long, MOMENT)
    later = MOMENT + timedelta(seconds=long + 1)
    assert next_turn(None, short, later) > waiting


def test_how_long_a_job_takes_is_told_by_its_size_and_what_is_asked_for() -> None:
    assert expected_seconds("plan", {}, 10_000) == 10.0
    assert expected_seconds("plan", {"time_limit": 2}, 100_000) == 3.0
    assert expected_seconds("plan", {"time_limit": None}, 1) == 1.0
    assert expected_seconds("comparison", COMPARISON, 2_000) == 26.0
    assert expected_seconds("comparison", {**COMPARISON, "boards": [["a"], ["b"]]}, 2_000) == 52.0
    assert expected_seconds("comparison", {"from_mm": 1, "to_mm": 2000, "step_mm": 1}, 10**6) == 3600.0
    assert next_turn(2**31 - 2, 3600.0, MOMENT) == 2**31 - 1
