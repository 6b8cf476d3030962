"""The benchmark's rows for the aims on real projects: in their order, and what was not measured is said to be so."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from time import sleep

import pytest
from ortools.sat.python import cp_model

from benchmarks import open_cases
from benchmarks.__main__ import main
from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.comparison import Comparison
from benchmarks.instances.without_round_up import (
    NUMBERS,
    known_optimum,
    widths_without_round_up,
    without_round_up,
)
from benchmarks.open_cases import judge_group
from benchmarks.open_groups import groups
from benchmarks.parts import Part, kept_or_measured
from benchmarks.registry import TARGETS
from benchmarks.report import aim_rows, target_rows
from benchmarks.rivals.plain_linear_programme import plain_linear_programme
from benchmarks.sections import is_one, mutants
from benchmarks.verdicts import Verdict
from optimiser.cutting.clock import Clock


def verdict(group: str, aim: Aim | None, *, measured: int = 1) -> Verdict:
    return Verdict(group, "a target", True, measured, 1, measured, "numbers", (), aim)


def test_rows_stand_in_the_order_of_the_aims() -> None:
    found = [verdict("late", Aim.ANYTIME), verdict("other", None), verdict("early", Aim.FULL_RACK)]
    assert [row[:2] for row in aim_rows(found)] == [["2 a full rack", "early"], ["8 anytime", "late"]]
    assert [row[0] for row in target_rows(found)] == ["other"]


def test_what_was_not_measured_is_neither_met_nor_missed() -> None:
    assert aim_rows([verdict("V", Aim.JOINTS, measured=0)])[0][3] == "not measured"


def test_every_aim_has_targets_or_a_section() -> None:
    of_groups = {group.aim for group in groups()} | {target.aim for target in TARGETS} | {mutants().aim}
    assert {*of_groups, Aim.LOOSER, Aim.JOINTS} >= set(Aim)
    assert is_one("looser")
    assert is_one("joints")


def test_a_section_is_run_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "mutants"]) == 0
    assert "not measured" in capsys.readouterr().out


def test_a_run_that_was_broken_off_measures_nothing_twice(tmp_path: Path) -> None:
    asked = []

    def measured() -> Part:
        asked.append("once")
        return Part("rack M 150", "c0ffee", verdicts=(verdict("rack M 150", Aim.FULL_RACK),))

    first = kept_or_measured("rack M 150", tmp_path, measured)
    assert kept_or_measured("rack M 150", tmp_path, measured) == first
    assert asked == ["once"]
    assert kept_or_measured("rack M 600", tmp_path, measured, only_kept=True) == Part("rack M 600")
    kept_or_measured("rack M 600", tmp_path, measured)
    assert asked == ["once", "once"]


def test_the_rivals_of_cases_that_groups_share_are_asked_once() -> None:
    named = [group for group in groups() if group.name.startswith("carry 1 M")]
    first, second = (group.cases[0].name for group in named)
    assert first == second
    before = Comparison("a case", "this solver", 1, 1, 1, 0.1, None, None, ())
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(open_cases, "compared", lambda *_: [before])
        assert [len(judge_group(group, quick=True)[1]) for group in named] == [1, 0]


def test_an_open_case_stands_beside_the_ways_that_know_less() -> None:
    """Two sizes of a facade of three levels, each alone, and cut level by level."""
    group = next(one for one in groups() if one.name == "sizes S 1200x1000 and 1200x600")
    (judged,), beside = judge_group(group, quick=True)
    assert judged.aim is Aim.SEVERAL_SIZES
    ours, *others = (row.boards or 0 for row in beside)
    assert [row.way for row in beside] == [
        "this solver", "one size", "level by level", "first fit, wide board alone",
    ]  # fmt: skip
    assert all(ours <= other for other in others)


def test_limits_by_cpu_do_not_pass_while_nothing_is_computed() -> None:
    with limits_by_cpu():
        clock = Clock(10.0)
        sleep(0.2)
        assert clock.seconds < 0.15
    clock = Clock(10.0)
    sleep(0.2)
    assert clock.seconds >= 0.2


@pytest.mark.parametrize("number", NUMBERS[:5])
def test_the_linear_bound_rounded_up_is_a_board_below_the_optimum(number: int) -> None:
    bound = plain_linear_programme(without_round_up(number), time_limit=60).lower_bound
    assert bound == known_optimum(number) - 1


@pytest.mark.parametrize("number", NUMBERS[:5])
def test_as_many_boards_as_the_linear_bound_are_too_few(number: int) -> None:
    """By every pattern that wastes no more than such a plan may waste in all."""
    board, widths, _ = widths_without_round_up(number)
    boards = known_optimum(number) - 1
    wanted = sorted(Counter(widths).items(), reverse=True)
    patterns = list(patterns_of(wanted, board, boards * board - sum(widths)))
    model = cp_model.CpModel()
    times = [model.new_int_var(0, boards, "") for _ in patterns]
    model.add(sum(times) == boards)
    for at, (_, count) in enumerate(wanted):
        model.add(sum(pattern[at] * used for pattern, used in zip(patterns, times, strict=True)) == count)
    assert cp_model.CpSolver().solve(model) == cp_model.INFEASIBLE


def patterns_of(wanted: list[tuple[int, int]], room: int, most_waste: int) -> Iterator[tuple[int, ...]]:
    """How often each width may lie on a board that wastes no more than that."""
    if not wanted:
        if room <= most_waste:
            yield ()
        return
    (width, count), *rest = wanted
    for copies in range(min(count, room // width) + 1):
        for others in patterns_of(rest, room - copies * width, most_waste):
            yield (copies, *others)
