"""What a real project adds: `python -m benchmarks.open_cases [--only NAME] [--cases N]`.

Several board sizes, a full rack of distinct offcuts, a limit on carrying and uneven surveys, each beside its proved
bound and its target. `python -m benchmarks` runs them with the rest. Seconds are those of the whole solve without the
second aim, by CPU, and so are the limits (`by_cpu`), because other work on the machine disturbs them least. Beside each
group's first case stand the ways of somebody without this solver's reach: see `benchmarks.open_rivals`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from statistics import median
from time import perf_counter, process_time

from rich.console import Console

from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.comparison import Comparison
from benchmarks.instances.real_projects import facade_in_sizes
from benchmarks.open_groups import FEW_SEEDS, MIXTURES, WIDE, Case, Group, groups
from benchmarks.open_rivals import compared
from benchmarks.verdicts import Verdict
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve


@dataclass(frozen=True)
class Found:
    """What a case showed, costs in the objective's unit."""

    case: str
    cost: float
    bound: float
    boards: int
    first: float  # what the first answer cost
    cpu_seconds: float
    wall_seconds: float
    broken_rules: tuple[str, ...]
    met: bool


@dataclass(frozen=True)
class Solved:
    """A result, what was told first, and what it took."""

    problem: CuttingProblem
    result: CuttingResult
    told: tuple[tuple[float, float], ...]  # cost and seconds of every answer
    cpu_seconds: float
    wall_seconds: float

    def cost_within(self, seconds: float | None) -> float:
        """What the best answer cost that was told by then (None: the first); infinite where none was."""
        if seconds is None:
            return self.told[0][0] if self.told else float("inf")
        return min((cost for cost, at in self.told if at <= seconds), default=float("inf"))


_SOLVED: dict[tuple[str, float], Solved] = {}


def solved(case: Case) -> Solved:
    """A case solved within its seconds, once in a run: groups share cases."""
    if (case.name, case.time_limit) not in _SOLVED:
        _SOLVED[case.name, case.time_limit] = _solve(case)
    return _SOLVED[case.name, case.time_limit]


def _solve(case: Case) -> Solved:
    problem = case.generate()
    told: list[tuple[float, float]] = []
    wall, cpu = perf_counter(), process_time()
    with limits_by_cpu():
        result = solve(
            problem,
            time_limit=case.time_limit,
            waiting=False,
            progress=lambda state: told.append((float(state.best), state.seconds)),
        )
    wall, cpu = perf_counter() - wall, process_time() - cpu
    return Solved(problem, result, tuple(told), round(cpu, 2), round(wall, 2))


def measure(case: Case, group: Group) -> Found:
    """Solves a case and judges it by the group's target."""
    of = solved(case)
    problem, result = of.problem, of.result
    broken = tuple(broken_rules_of_result(result, problem))
    first = of.cost_within(group.first_within)
    cost = Fraction(result.cost) if group.first_within is None else first
    above = cost - Fraction(result.cost_bound)
    allowed = Fraction(0)
    if group.share is not None:
        allowed = Fraction(group.share).limit_denominator(10**6) * Fraction(result.cost_bound)
    if group.boards is not None:
        allowed = Fraction(group.boards * max(problem.board_costs))
    return Found(
        case.name,
        float(cost),
        float(result.cost_bound),
        result.boards,
        first,
        of.cpu_seconds,
        of.wall_seconds,
        broken,
        not broken and above <= allowed and of.cpu_seconds <= 1.1 * case.time_limit,
    )


def verdict(group: Group, found: Sequence[Found]) -> Verdict:
    """The group's target beside what was reached."""
    met = [one for one in found if one.met]
    needed = -(-group.needed.numerator * len(found) // group.needed.denominator)
    shares = [(one.cost - one.bound) / max(1.0, one.bound) for one in found]
    firsts = [one.first / max(1.0, one.bound) - 1 for one in found]
    proved = sum(one.cost == one.bound for one in found)
    numbers = (
        f"above the bound median {median(shares):.2%}, most {max(shares):.2%}; proved {proved} of {len(found)};"
        f" first answer at most {max(firsts, default=0):.1%} above;"
        f" CPU seconds median {median(one.cpu_seconds for one in found):.2f},"
        f" most {max(one.cpu_seconds for one in found):.2f}"
    )
    missed = tuple(f"{one.case} ({one.cost:g} against {one.bound:g})" for one in found if not one.met)
    return Verdict(
        group.name,
        group.statement,
        len(met) >= needed,
        len(met),
        needed,
        len(found),
        numbers,
        missed,
        group.aim,
    )


def is_long(group: Group) -> bool:
    """Whether a group is left out of a quick run."""
    return "XL" in group.name or "60 levels" in group.name


def judge_group(group: Group, quick: bool = False) -> tuple[list[Verdict], list[Comparison]]:
    """The target of a group as a line of the results, and the rivals beside its first case, unless a group before it
    has them; `quick`: of its first case alone."""
    cases = group.cases[:1] if quick else group.cases
    judged = verdict(group, [measure(case, group) for case in cases])
    of_the_case = next(one for one in groups() if one.cases[0].name == cases[0].name)
    if of_the_case.name != group.name:
        return [judged], []
    first = solved(cases[0])
    return [judged], compared(cases[0].name, first.problem, first.result, first.cpu_seconds)


def judge_choices_of_sizes(quick: bool = False) -> Verdict:
    """Whether several sizes ever cost more than a smaller choice of them, on facades S without a time limit."""
    seeds = FEW_SEEDS[:1] if quick else FEW_SEEDS
    asked, dearer = 0, []
    for name, sizes in MIXTURES.items():
        for seed in seeds:
            every = solve(facade_in_sizes("S", seed, sizes), waiting=False).cost
            for number in range(1, len(sizes)):
                for chosen in combinations(sizes, number):
                    if max(length for length, _, _ in chosen) < WIDE[0]:
                        continue  # takes not every piece
                    asked += 1
                    alone = solve(facade_in_sizes("S", seed, chosen), waiting=False).cost
                    if every > alone:
                        dearer.append(f"{name}, seed {seed} ({every} against {alone})")
    return Verdict(
        "sizes, choices",
        "never dearer than any choice of the sizes alone",
        not dearer,
        asked - len(dearer),
        asked,
        asked,
        f"facades S of {len(seeds)} seeds, {len(MIXTURES)} mixtures",
        tuple(dearer),
        Aim.SEVERAL_SIZES,
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """0 when every target is met, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.open_cases")
    parser.add_argument("--only", default="", metavar="NAME", help="only groups whose name begins so")
    parser.add_argument("--cases", type=int, metavar="N", help="at most so many of each group")
    options = parser.parse_args(arguments)
    console = Console(width=None if sys.stdout.isatty() else 220)
    every = True
    for group in groups():
        if not group.name.startswith(options.only):
            continue
        judged = verdict(group, [measure(case, group) for case in group.cases[: options.cases]])
        every = every and judged.met
        row = (
            judged.group,
            judged.statement,
            judged.outcome,
            f"{judged.reached} of {judged.measured}",
            judged.numbers,
            ", ".join(judged.missed_by[:6]),
        )
        console.print(" | ".join(row), highlight=False)
    return 0 if every else 1


if __name__ == "__main__":
    sys.exit(main())
