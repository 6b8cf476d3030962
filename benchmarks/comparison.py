"""The solver and its rivals on the same cases, side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter

from benchmarks.registry import Case, Group
from benchmarks.rivals.cp_sat import direct_cp_sat
from benchmarks.rivals.first_fit_decreasing import first_fit_decreasing
from benchmarks.rivals.outcome import RivalOutcome
from benchmarks.rivals.plain_linear_programme import plain_linear_programme
from benchmarks.rivals.restricted import level_by_level, without_window
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.solve import solve

OURS = "this solver"


@dataclass(frozen=True)
class Comparison:
    """Sums over the `cases` compared; None where a way gives no plan, or no bound, for one of them."""

    group: str
    way: str
    cases: int
    boards: int | None
    lower_bound: int | None
    seconds: float
    boards_ratio: float | None
    seconds_ratio: float
    notes: tuple[str, ...]


def compare(group: Group, cases: Sequence[Case]) -> list[Comparison]:
    """These cases of a group by the solver and by each rival of the group, all in this run."""
    problems = [case.generate() for case in cases]
    ours = [_solver_on(problem, group.time_limit) for problem in problems]
    rows = [_summary(group, OURS, ours, ours)]
    for name in group.rivals:
        outcomes = [_rival(name, group)(problem) for problem in problems]
        rows.append(_summary(group, name, outcomes, ours))
    return rows


def _rival(name: str, group: Group) -> Callable[[CuttingProblem], RivalOutcome]:
    limit = group.rival_time_limit
    return {
        "first fit": first_fit_decreasing,
        "fixed width": lambda problem: _solver_on(without_window(problem), group.time_limit),
        "level by level": lambda problem: _solver_on(level_by_level(problem), group.time_limit),
        "CP-SAT": lambda problem: direct_cp_sat(problem, time_limit=limit),
        "plain LP": lambda problem: plain_linear_programme(problem, time_limit=limit),
    }[name]


def _solver_on(problem: CuttingProblem, time_limit: float) -> RivalOutcome:
    started = perf_counter()
    try:
        # like the rivals it seeks the fewest boards alone
        result = solve(problem, time_limit=time_limit, seed=0, waiting=False)
    except Exception as error:  # a solver that breaks down is a finding, not the end of the benchmark
        return RivalOutcome(None, None, perf_counter() - started, f"{type(error).__name__}: {error}")
    return RivalOutcome(result.boards, result.lower_bound, perf_counter() - started)


def _summary(group: Group, way: str, outcomes: list[RivalOutcome], ours: list[RivalOutcome]) -> Comparison:
    boards = _sum([outcome.boards for outcome in outcomes])
    our_boards = _sum([outcome.boards for outcome in ours])
    seconds = sum(outcome.seconds for outcome in outcomes)
    return Comparison(
        group=group.name,
        way=way,
        cases=len(outcomes),
        boards=boards,
        lower_bound=_sum([outcome.lower_bound for outcome in outcomes]),
        seconds=seconds,
        boards_ratio=boards / our_boards if boards is not None and our_boards else None,
        seconds_ratio=seconds / sum(outcome.seconds for outcome in ours),
        notes=tuple(dict.fromkeys(outcome.note for outcome in outcomes if outcome.note)),
    )


def _sum(numbers: list[int | None]) -> int | None:
    known = [number for number in numbers if number is not None]
    return sum(known) if len(known) == len(numbers) else None
