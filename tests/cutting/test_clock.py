"""A limit is shared out; an end that is set from outside changes nothing until it is reached, and tells that it was."""

from __future__ import annotations

import pytest

from benchmarks.instances.facade import facade
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.clock import Clock, stopped, stopping_after
from optimiser.cutting.problem import CuttingResult
from optimiser.cutting.solve import solve


def what_is_cut(result: CuttingResult) -> object:
    return result.layouts, result.left_over, result.waiting


def test_without_a_limit_no_time_is_ever_out() -> None:
    clock = Clock(None)
    assert clock.left is None
    assert not clock.out()
    assert not clock.used(0.0)


def test_a_limit_that_is_past_is_out_and_told_to_who_asks() -> None:
    with stopping_after(None) as stop:
        assert not Clock(1e9).out()
        assert not stop.met
        assert Clock(0.0).out()
        assert stop.met


def test_a_clock_of_what_is_left_has_that_as_its_limit() -> None:
    whole = Clock(100.0)
    part = whole.of_what_is_left()
    assert part.limit is not None
    assert 90.0 < part.limit <= 100.0
    half = whole.of_what_is_left(0.5)
    assert half.limit is not None
    assert 45.0 < half.limit <= 50.0
    assert Clock(None).of_what_is_left().limit is None


def test_an_end_holds_for_every_search_inside_and_no_longer() -> None:
    with stopping_after(0.0) as stop:
        assert stopped()
        assert Clock(None).out()
        assert Clock(1e9).used(0.5)
        assert stop.met
    assert not stopped()
    assert not Clock(None).out()


def test_of_two_ends_the_earlier_counts_and_the_outer_learns_of_it() -> None:
    with stopping_after(0.0), stopping_after(1e9) as inner:
        assert Clock(None).out()
        assert inner.met
    with stopping_after(1e9) as outer:
        with stopping_after(0.0):
            assert stopped()
        assert outer.met
        assert not stopped()


@pytest.mark.slow
def test_an_end_that_is_not_reached_changes_nothing() -> None:
    problem = facade("S", 1)
    with stopping_after(1e9) as stop:
        within = solve(problem)
    assert what_is_cut(within) == what_is_cut(solve(problem))
    assert not stop.met


@pytest.mark.parametrize("carried", [None, 1])
def test_a_search_that_is_stopped_leaves_a_whole_plan_and_a_bound(carried: int | None) -> None:
    problem = facade("M", 1).model_copy(update={"max_carry_stages": carried})
    with stopping_after(0.0) as stop:
        result = solve(problem)
    assert stop.met
    assert broken_rules_of_result(result, problem) == []
    assert 0 < result.cost_bound <= result.cost


def test_a_part_of_what_is_left_ends_before_the_limit() -> None:
    clock = Clock(1000.0)
    half, all_of_it = clock.part(0.5), clock.part(1.0)
    assert not half()
    clock.started -= 600.0  # as if so many seconds had passed
    assert half()
    assert not all_of_it()
    clock.started -= 600.0
    assert all_of_it()


def test_a_part_of_no_limit_never_ends() -> None:
    assert not Clock(None).part(0.0)()


def test_what_the_last_step_takes_is_kept_of_the_limit_but_never_more_than_half_of_it() -> None:
    whole = Clock(100.0, reserve=10.0)
    assert (whole.limit, whole.hurried) == (90.0, False)
    short = Clock(10.0, reserve=8.0)
    assert (short.limit, short.hurried) == (5.0, True)
    assert not Clock(None, reserve=8.0).hurried


def test_what_is_left_is_the_limit_less_the_time_since_the_start() -> None:
    clock = Clock(1000.0)
    clock.started -= 400.0
    assert clock.left is not None
    assert 590.0 < clock.left() <= 600.0
