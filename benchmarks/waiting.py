"""How little waits, at the fewest boards: `python -m benchmarks.waiting [--only NAME] [--cases N]`.

Facades of the frozen generator, the sample tower, and the whole plan of a tall building (seed 1), each beside its
proved bound; the facades also beside what waited when boards came first and few pieces carried second (by the greedy
cover that waiting as an aim replaced). The tower's packs are paid for anyway: its boards may be as many as they hold.
`--results` writes a JSON file. A target in seconds is judged by the CPU seconds that pass on two processors, those of
the main thread and half of those of the two searches that run side by side, because other work on the machine
disturbs them least; wall seconds stand beside. `python -m benchmarks` runs them with the rest.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from functools import partial
from math import ceil
from pathlib import Path
from statistics import median
from time import perf_counter, process_time, thread_time

from rich.console import Console
from rich.table import Table

from benchmarks import report
from benchmarks.instances.facade import facade
from benchmarks.instances.tall_building import tall_building
from benchmarks.verdicts import Verdict
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, Waiting
from optimiser.cutting.second_aim import NO_MORE
from optimiser.cutting.solve import Budget, solve
from optimiser.cutting.waiting import CHAINS

TOWER = Path(__file__).resolve().parent.parent / "sample_orders" / "tower" / "tower.json"
PACKS = {"B-120": 38, "B-100": 15}  # what is paid for in any case
# (boards, piece-stages) of seeds 1, 2, ... before waiting was an aim: the plans that this repository's solver made at
# its first release, which carried few pieces by a greedy cover. Of XL-01 the least that any of its runs had.
BEFORE_M = (
    (114, 2761), (135, 2395), (128, 2543), (132, 3046), (122, 1800), (141, 1734), (138, 2324), (130, 2815),
    (132, 2790), (130, 2600), (117, 1845), (132, 1759), (121, 2295), (119, 1859), (129, 1920), (133, 2572),
    (124, 1901), (140, 2752), (125, 2761), (134, 2579),
)  # fmt: skip
BEFORE_XL = ((760, 25973), (760, 35178), (733, 32576), (766, 31364), (782, 26910))
XL_EFFORT = 2.75  # times the usual steps: the time that is asked for allows it
TALL_SEED = 1
TALL_SECONDS = 15.0  # of a whole plan of 60 levels and some 9,400 pieces
TOWER_TARGETS = (320, 190, 100)  # piece-stages, pieces, remainders of both boards together


@dataclass(frozen=True)
class Case:
    """A problem, what it may buy, and what is asked: no more boards than `before`, piece-stages at most `of_bound`
    times the bound and at most `part_of_before` of those before; within `seconds` on two processors. `before`: boards
    and piece-stages."""

    name: str
    generate: Callable[[], CuttingProblem]
    seconds: float
    budget: Budget = NO_MORE
    before: tuple[int, int] | None = None
    of_bound: float | None = None
    part_of_before: float | None = None
    effort: float = 1.0


@dataclass(frozen=True)
class Found:
    """What a case showed; `before`: piece-stages before waiting was an aim."""

    case: str
    boards: int
    lower_bound: int
    before: int | None
    pieces: int
    piece_stages: int
    bound: int
    remainders: int
    seconds: float  # on two processors, as the module says
    cpu_seconds: float
    wall_seconds: float
    met: bool
    missed: tuple[str, ...]


class Stopwatch:
    """Seconds since it was made, by three clocks."""

    def __init__(self) -> None:
        self.wall, self.cpu, self.main = perf_counter(), process_time(), thread_time()

    def stop(self) -> None:
        """Holds what has passed."""
        self.wall, self.cpu = perf_counter() - self.wall, process_time() - self.cpu
        self.main = thread_time() - self.main

    @property
    def on_two_processors(self) -> float:
        """CPU seconds of the main thread and half of those of the threads beside it, which are two and alike."""
        return self.main + (self.cpu - self.main) / len(CHAINS)


def cases() -> Iterator[Case]:
    """M of 20 seeds, XL of 5, and the sample tower's boards."""
    for seed, before in enumerate(BEFORE_M, start=1):
        yield Case(
            f"M-{seed:02d}",
            partial(facade, "M", seed),
            3.0,
            before=before,
            of_bound=2.0,
            part_of_before=1 / 8,
        )
    for seed, before in enumerate(BEFORE_XL, start=1):
        yield Case(
            f"XL-{seed:02d}",
            partial(facade, "XL", seed),
            20.0,
            before=before,
            part_of_before=1 / 15,
            effort=XL_EFFORT,
        )
    for code in PACKS:
        yield Case(f"tower-{code}", partial(tower, code), 20.0, Budget(boards={code: boards_in_packs(code)}))


def boards_in_packs(code: str) -> int:
    """How many boards may be cut of what is paid for, the allowance for breakage left aside."""
    from optimiser.reading import read_project

    project = read_project(TOWER)
    per_pack = next(product.per_pack for product in project.products if product.code == code)
    fraction = next(Fraction(row.fraction) for row in project.allowance if row.kind == "board")
    boards = PACKS[code] * per_pack
    while boards + ceil(boards * fraction) > PACKS[code] * per_pack:
        boards -= 1
    return boards


def tower(code: str) -> CuttingProblem:
    """The cutting problem of one board of the sample tower, carrying as far as it likes."""
    from optimiser.boards.problems import board_families
    from optimiser.joints.layout import lay_out
    from optimiser.reading import read_project

    project = read_project(TOWER)
    families = board_families(project, lay_out(project).pieces, "whole")
    return next(family.problem for family in families if code in family.codes)


def measure(case: Case) -> Found:
    """Solves a case within its counts and judges it."""
    problem = case.generate()
    clock = Stopwatch()
    result = solve(problem, seed=0, budget=case.budget, effort=case.effort)
    clock.stop()
    waiting = result.waiting or Waiting()
    missed: list[str] = []
    if case.of_bound and waiting.piece_stages > case.of_bound * waiting.lower_bound_piece_stages:
        missed.append(f"{case.of_bound:g} x bound")
    if case.before and case.part_of_before:
        if waiting.piece_stages > case.part_of_before * case.before[1]:
            missed.append("part of before")
        if result.boards > case.before[0]:
            missed.append("boards")
    if clock.on_two_processors > case.seconds:
        missed.append("seconds")
    missed += broken_rules_of_result(result, problem)
    return Found(
        case.name,
        result.boards,
        result.lower_bound,
        case.before[1] if case.before else None,
        waiting.pieces,
        waiting.piece_stages,
        waiting.lower_bound_piece_stages,
        waiting.remainders,
        round(clock.on_two_processors, 2),
        round(clock.cpu, 2),
        round(clock.wall, 2),
        not missed,
        tuple(missed),
    )


def measure_tall_building() -> Found:
    """The whole plan of a tall building, from the joints to the judge, which raises what it finds."""
    from optimiser.planning.plan import plan

    project = tall_building(TALL_SEED)
    clock = Stopwatch()
    made = plan(project)
    clock.stop()
    waiting = made.waiting or Waiting()
    missed = ("seconds",) if clock.on_two_processors > TALL_SECONDS else ()
    return Found(
        f"60 levels, {len(made.pieces)} pieces",
        sum(count.count for count in made.boards.values()),
        sum(count.lower_bound for count in made.boards.values()),
        None,
        waiting.pieces,
        waiting.piece_stages,
        waiting.lower_bound_piece_stages,
        waiting.remainders,
        round(clock.on_two_processors, 2),
        round(clock.cpu, 2),
        round(clock.wall, 2),
        not missed,
        missed,
    )


def measure_all(only: str = "", most: int | None = None) -> Iterator[Found]:
    """Every case whose name begins so, at most so many."""
    chosen = [(case.name, partial(measure, case)) for case in cases()]
    chosen.append(("60 levels", measure_tall_building))
    for _, work in [item for item in chosen if item[0].startswith(only)][:most]:
        yield work()


def tower_together(results: Sequence[Found]) -> tuple[list[int], bool] | None:
    """Piece-stages, pieces and remainders of the tower's boards together, and whether all targets are met; None where
    not all its boards were measured."""
    totals = [found for found in results if found.case.startswith("tower")]
    if len(totals) < len(PACKS):
        return None
    summed = [
        sum(getattr(found, name) for found in totals) for name in ("piece_stages", "pieces", "remainders")
    ]
    return summed, all(value <= most for value, most in zip(summed, TOWER_TARGETS, strict=True))


def judge_waiting(quick: bool = False) -> list[Verdict]:
    """The targets of waiting as lines of the results; `quick`: of two buildings of M only."""
    results = list(measure_all("M", 2) if quick else measure_all())
    verdicts = []
    for beginning, statement in (
        ("M", "pieces wait at most 2 times the proved bound and an eighth of before, in 3 s"),
        ("XL", "pieces wait at most a fifteenth of before, in 20 s"),
        ("tower", "each board of the sample tower in 20 s"),
        ("60 levels", f"a whole plan of a tall building (seed {TALL_SEED}) in {TALL_SECONDS:g} s"),
    ):
        of = [found for found in results if found.case.startswith(beginning)]
        if of:
            verdicts.append(_verdict(beginning, statement, of))
    together = tower_together(results)
    if together is not None:
        summed, met = together
        statement = "at most {} piece-stages, {} pieces, {} remainders wait".format(*TOWER_TARGETS)
        numbers = "{} piece-stages, {} pieces, {} remainders".format(*summed)
        verdicts.append(
            Verdict("waiting tower", statement, met, int(met), 1, 1, numbers, () if met else ("tower",))
        )
    return verdicts


def _verdict(beginning: str, statement: str, of: Sequence[Found]) -> Verdict:
    seconds = [found.seconds for found in of]
    ratios = [found.piece_stages / found.bound for found in of if found.bound]
    numbers = (
        f"piece-stages {sum(found.piece_stages for found in of)} in all;"
        f" CPU seconds on two processors median {median(seconds):.2f}, most {max(seconds):.2f}"
    )
    if ratios:
        numbers += f"; times the bound median {median(ratios):.2f}, most {max(ratios):.2f}"
    missed = tuple(f"{found.case} ({', '.join(found.missed)})" for found in of if not found.met)
    reached = len(of) - len(missed)
    return Verdict(f"waiting {beginning}", statement, not missed, reached, len(of), len(of), numbers, missed)


HEADINGS = (
    "case",
    "boards (bound)",
    "piece-stages",
    "bound",
    "ratio",
    "before",
    "part",
    "pieces",
    "remainders",
    "s",
    "CPU s",
    "wall s",
    "",
)


def row(found: Found) -> list[str]:
    """A table's row."""
    return [
        found.case,
        f"{found.boards} ({found.lower_bound})",
        str(found.piece_stages),
        str(found.bound),
        f"{found.piece_stages / max(1, found.bound):.2f}",
        str(found.before or ""),
        f"1/{found.before / max(1, found.piece_stages):.1f}" if found.before else "",
        str(found.pieces),
        str(found.remainders),
        f"{found.seconds:.2f}",
        f"{found.cpu_seconds:.2f}",
        f"{found.wall_seconds:.2f}",
        "met" if found.met else "MISSED: " + ", ".join(found.missed),
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """0 when every target is met, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.waiting")
    parser.add_argument(
        "--only", default="", metavar="NAME", help="only cases whose name begins so, such as M"
    )
    parser.add_argument("--cases", type=int, metavar="N", help="at most so many")
    parser.add_argument("--results", type=Path, metavar="FILE", help="where the JSON is written")
    options = parser.parse_args(arguments)
    console = Console(width=None if sys.stdout.isatty() else 200)
    table = Table(*HEADINGS, title="Waiting", title_justify="left")
    results: list[Found] = []
    for found in measure_all(options.only, options.cases):
        results.append(found)
        table.add_row(*row(results[-1]))
        console.print(" ".join(row(results[-1])), highlight=False)
    together = tower_together(results)
    if together is not None:
        summed, met = together
        console.print(
            f"tower: {summed[0]} piece-stages of at most {TOWER_TARGETS[0]}, {summed[1]} pieces of {TOWER_TARGETS[1]},"
            f" {summed[2]} remainders of {TOWER_TARGETS[2]}: {'met' if met else 'MISSED'}"
        )
    console.print(table)
    if options.results:
        written = {"machine": report.machine(), "cases": [asdict(found) for found in results]}
        options.results.write_text(json.dumps(written, indent=1) + "\n", encoding="utf-8")
    return 0 if all(found.met for found in results) else 1


if __name__ == "__main__":
    sys.exit(main())
