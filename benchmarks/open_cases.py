"""What a real project adds: `python -m benchmarks.open_cases [--only NAME] [--cases N]`.

Several board sizes, a full rack of distinct offcuts, a limit on carrying and uneven surveys, each beside its proved
bound and its target. `python -m benchmarks` runs them with the rest. Seconds are those of the whole solve without the
second aim, by CPU, and so are the limits (`by_cpu`), because other work on the machine disturbs them least. Beside each
group's first case stand the ways of somebody without this solver's reach: see `benchmarks.open_rivals`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import combinations
from statistics import median
from time import perf_counter, process_time

from rich.console import Console

from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.comparison import Comparison
from benchmarks.instances.facade import facade
from benchmarks.instances.real_projects import facade_in_sizes, facade_with_rack, uneven_survey
from benchmarks.open_rivals import compared
from benchmarks.verdicts import Verdict
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult
from optimiser.cutting.solve import solve

WIDE, NARROW, SHORT, LONG = (1200, 1000, 5300), (1200, 600, 3300), (1000, 600, 2800), (2400, 1200, 12_500)
MIXTURES = {
    "1200x1000 and 1200x600": (WIDE, NARROW),
    "1200x1000 and 1000x600": (WIDE, SHORT),
    "1200x1000 and 2400x1200": (WIDE, LONG),
    "three sizes": (WIDE, NARROW, SHORT),
}
SEEDS = tuple(range(1, 21))
FEW_SEEDS = SEEDS[:5]
OPEN_SEEDS = (*SEEDS, *range(101, 121))
FIRST_ANSWER_SECONDS = 0.5


@dataclass(frozen=True)
class Case:
    """A problem and the seconds that its solver is given."""

    name: str
    generate: Callable[[], CuttingProblem]
    time_limit: float


@dataclass(frozen=True)
class Group:
    """Cases that share a target: of at least `needed` of them (a share), no more than `boards` times the dearest board
    or `share` of the bound above the bound; both None: proved optimal. With `first_within` it is the best
    answer by those seconds that is judged."""

    aim: Aim
    name: str
    statement: str
    cases: tuple[Case, ...]
    needed: Fraction = Fraction(1)
    boards: int | None = None
    share: float | None = None
    first_within: float | None = None


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


def _cases(
    name: str, seeds: Sequence[int], time_limit: float, generate: Callable[[int], CuttingProblem]
) -> tuple[Case, ...]:
    return tuple(Case(f"{name}-{seed:02d}", partial(generate, seed), time_limit) for seed in seeds)


def carried(size: str, carry: int, seed: int) -> CuttingProblem:
    """A facade whose pieces may be cut so many deliveries ahead."""
    return facade(size, seed).model_copy(update={"max_carry_stages": carry})


def groups() -> Iterator[Group]:
    """The groups in the order of the aims."""
    for size in ("S", "M"):
        yield Group(
            Aim.OPEN_BOARD,
            f"open board {size}",
            "one size carried freely, proved optimal, every one, in 10 s",
            _cases(f"facade-{size}", OPEN_SEEDS, 10.0, partial(facade, size)),
        )
    for name, sizes in MIXTURES.items():
        for size, seeds, seconds, needed, share in (
            ("S", SEEDS, 5.0, Fraction(18, 20), None),
            ("M", FEW_SEEDS, 5.0, Fraction(1), 0.002),
            ("XL", SEEDS[:2], 10.0, Fraction(1), 0.0005),
        ):
            goal = "proved optimal, 18 of 20," if share is None else f"within {share:.2%} of the bound"
            yield Group(
                Aim.SEVERAL_SIZES,
                f"sizes {size} {name}",
                f"{goal} in {seconds:g} s",
                _cases(f"sizes-{size}-{name}", seeds, seconds, partial(_in_sizes, size, sizes)),
                needed,
                share=share,
            )
    for offcuts in (150, 600):
        for carry in (None, 1):
            how = "freely" if carry is None else f"to {carry}"
            yield Group(
                Aim.FULL_RACK,
                f"rack M {offcuts} carried {how}",
                "within one board of the bound in 3 s",
                _cases(f"rack-M-{offcuts}-{how}", FEW_SEEDS, 3.0, partial(_racked, "M", offcuts, carry)),
                boards=1,
            )
    for offcuts, seeds in ((150, SEEDS[:2]), (600, SEEDS[:1])):
        for carry in (None, 1):
            how = "freely" if carry is None else f"to {carry}"
            yield Group(
                Aim.FULL_RACK,
                f"rack XL {offcuts} carried {how}",
                "within two boards of the bound in 10 s",
                _cases(f"rack-XL-{offcuts}-{how}", seeds, 10.0, partial(_racked, "XL", offcuts, carry)),
                boards=2,
            )
    for limit in (1, 2, 3):
        yield Group(
            Aim.LIMITED_CARRYING,
            f"carry {limit} M",
            "proved optimal in 5 s, 15 of 20",
            _cases(f"carry-{limit}-M", SEEDS, 5.0, partial(carried, "M", limit)),
            Fraction(15, 20),
        )
        for size, seeds in (("M", SEEDS), ("XL", SEEDS[:2])):
            yield Group(
                Aim.LIMITED_CARRYING,
                f"carry {limit} {size}, a board",
                "within one board of the bound in 5 s",
                _cases(f"carry-{limit}-{size}", seeds, 5.0, partial(carried, size, limit)),
                boards=1,
            )
    for levels, seconds in ((20, 5.0), (60, 30.0)):
        cases = _cases(f"uneven-{levels}", SEEDS[:1], seconds, partial(uneven_survey, levels))
        for statement, share, first in (
            (f"within 0.2 % of the bound in {seconds:g} s, tapers included", 0.002, None),
            (f"first answer within 1 % in {FIRST_ANSWER_SECONDS:g} s", 0.01, FIRST_ANSWER_SECONDS),
        ):
            yield Group(
                Aim.UNEVEN_SURVEYS,
                f"uneven survey, {levels} levels" + (", first answer" if first else ""),
                statement,
                cases,
                share=share,
                first_within=first,
            )


def _in_sizes(size: str, sizes: tuple[tuple[int, int, int], ...], seed: int) -> CuttingProblem:
    return facade_in_sizes(size, seed, sizes)


def _racked(size: str, offcuts: int, carry: int | None, seed: int) -> CuttingProblem:
    return facade_with_rack(size, seed, offcuts, carry)


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


def judge_open_cases(quick: bool = False, only: str = "") -> tuple[list[Verdict], list[Comparison]]:
    """The targets of the groups whose name begins with `only` as lines of the results, and the rivals beside each
    group's first case; `quick`: the first case of each group without XL and 60 levels."""
    verdicts = []
    comparisons: list[Comparison] = []
    for group in groups():
        if not group.name.startswith(only) or (quick and ("XL" in group.name or "60 levels" in group.name)):
            continue
        cases = group.cases[:1] if quick else group.cases
        verdicts.append(verdict(group, [measure(case, group) for case in cases]))
        first = solved(cases[0])
        if group.first_within is None and not any(cases[0].name == row.group for row in comparisons):
            comparisons += compared(cases[0].name, first.problem, first.result, first.cpu_seconds)
    return verdicts, comparisons


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
