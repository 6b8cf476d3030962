"""`python -m benchmarks.joints [--rounds N] [--buildings N]`: what laying the joints by the cutting's prices saves.

The sample tower, and invented buildings of 6 levels with four runs each: 6 to 14 m long, mullions every 0.9 to
1.5 m, gaps of 60, 100, 150 and 240 mm surveyed every 1.5 m with a deviation N(0, 8 mm); half of the buildings
forbid trimming. A building is its seed.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random
from time import perf_counter

from benchmarks.report import machine
from optimiser.plan import Plan
from optimiser.planning import plan
from optimiser.project import Detail, Gap, Level, Product, Project, Run
from optimiser.reading import read_project

TOWER = Path(__file__).resolve().parent.parent / "sample_orders" / "tower" / "tower.xlsx"
LEVELS = 6
NOMINAL_GAPS = (60, 100, 150, 240)
DEVIATION_MM = 8
PITCHES = (900, 1050, 1150, 1500)
SURVEYED_EVERY_MM = 1500
TIME_LIMIT = 20.0  # seconds a plan
HEADINGS = (
    "building",
    "pieces",
    "boards",
    "by price",
    "cost",
    "by price",
    "joints",
    "by price",
    "s",
    "by price",
)


def main(arguments: list[str] | None = None) -> int:
    """Prints a Markdown row a building, before and after; 1 when prices ever cost boards or joints."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.joints")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--buildings", type=int, default=5, help="of each kind")
    options = parser.parse_args(arguments)
    print(f"| {' | '.join(HEADINGS)} |\n|{' --- |' * len(HEADINGS)}")
    worse = False
    for name, project in _projects(options.buildings):
        before, seconds = _timed(project, 0)
        after, seconds_by_price = _timed(project, options.rounds)
        pairs = [
            (_boards(before), _boards(after)),
            (before.order.total / 100, after.order.total / 100),
            (_joints(before), _joints(after)),
        ]
        worse |= any(last > first for first, last in pairs[::2])
        cells = [f"{first:g} | {last:g}" for first, last in pairs]
        times = f"{seconds:.1f} | {seconds_by_price:.1f}"
        print(f"| {name} | {len(before.pieces)} | {' | '.join(cells)} | {times} |", flush=True)
    print(", ".join(f"{key} {value}" for key, value in machine().items()))
    return int(worse)


def building(seed: int, *, trim: bool) -> Project:
    """An invented building; see the head of this module."""
    random = Random(seed)
    runs: list[Run] = []
    gaps: list[Gap] = []
    for level in range(1, LEVELS + 1):
        for number, nominal in enumerate(NOMINAL_GAPS):
            length, pitch = random.randrange(6000, 14000), random.choice(PITCHES)
            name = f"L{level:02d}-{number}"
            mullions = tuple(range(pitch, length - 150, pitch))
            runs.append(
                Run(run=name, level=f"L{level:02d}", length_mm=length, board=("B-120",), mullions_mm=mullions)
            )
            for at in range(0, length, SURVEYED_EVERY_MM):
                gap = max(30, round(random.gauss(nominal, DEVIATION_MM)))
                gaps.append(Gap(run=name, at_mm=at, gap_mm=gap, basis="measured"))
    board = Product(code="B-120", kind="board", length_mm=1200, width_mm=1000, per_pack=1, price="53.00")
    return Project(
        detail=Detail(trim=trim),
        products=(board,),
        levels=tuple(Level(level=f"L{level:02d}", sequence=level) for level in range(1, LEVELS + 1)),
        runs=tuple(runs),
        gaps=tuple(gaps),
    )


def _projects(buildings: int) -> Iterator[tuple[str, Project]]:
    yield "sample tower", read_project(TOWER)
    for trim in (True, False):
        for seed in range(1, buildings + 1):
            yield f"building {seed}, {'trimmed' if trim else 'not trimmed'}", building(seed, trim=trim)


def _timed(project: Project, rounds: int) -> tuple[Plan, float]:
    started = perf_counter()
    made = plan(project, joint_rounds=rounds, time_limit=TIME_LIMIT)
    return made, perf_counter() - started


def _boards(made: Plan) -> int:
    return sum(count.count for count in made.boards.values())


def _joints(made: Plan) -> int:
    return sum(count.joints for count in made.counts.values())


if __name__ == "__main__":
    sys.exit(main())
