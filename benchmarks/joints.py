"""`python -m benchmarks.joints [--rounds N] [--buildings N] [--quick]`: joints laid by the cutting's prices, and the
proof over all joints.

The two samples, an invented building of 40 levels (seed 40), and invented buildings of 6 levels with four runs each:
6 to 14 m long, mullions every 0.9 to 1.5 m, gaps of 60, 100, 150 and 240 mm surveyed every 1.5 m with a deviation
N(0, 8 mm); half of the buildings forbid trimming. A building is its seed. Target: the bound over all joints at most one
board a product, or 0.5 %, below the bound for the joints of the plan, whichever is more. `--quick`: no joint rounds.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from random import Random
from time import process_time

from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.report import machine
from benchmarks.verdicts import Verdict
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import Proof
from optimiser.model.project import Board, Detail, Gap, Level, Project, Run
from optimiser.planning.plan import plan
from optimiser.reading import read_project

SAMPLES = Path(__file__).resolve().parent.parent / "sample_orders"
TOWER = SAMPLES / "tower" / "tower.xlsx"
SMALL = SAMPLES / "small" / "small.xlsx"
BUILDINGS = 5  # of each kind
HIGH_SEED, HIGH_LEVELS = 40, 40
GAP_BOARDS, GAP_SHARE = 1, 0.005  # the target: boards a product, or part of the bound, whichever is more
LEVELS = 6
NOMINAL_GAPS = (60, 100, 150, 240)
DEVIATION_MM = 8
PITCHES = (900, 1050, 1150, 1500)
SURVEYED_EVERY_MM = 1500
TIME_LIMIT = 60.0  # seconds a plan
HEADINGS = (
    "building",
    "pieces",
    "boards",
    "by price",
    "cost",
    "by price",
    "joints",
    "by price",
    "bound",
    "any joints",
    "target",
    "s",
    "by price",
)


def main(arguments: list[str] | None = None) -> int:
    """Prints a Markdown row a building, before and after; 1 when prices ever cost boards or joints."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.joints")
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--buildings", type=int, default=BUILDINGS, help="of each kind")
    parser.add_argument("--quick", action="store_true", help="no joint rounds: the bounds alone")
    options = parser.parse_args(arguments)
    print(f"| {' | '.join(HEADINGS)} |\n|{' --- |' * len(HEADINGS)}")
    worse = False
    met = []
    for name, project in _projects(options.buildings):
        before, seconds = _timed(project, 0)
        after, seconds_by_price = (before, seconds) if options.quick else _timed(project, options.rounds)
        pairs = [
            (_boards(before), _boards(after)),
            (before.order.total / 100, after.order.total / 100),
            (_joints(before), _joints(after)),
        ]
        worse |= any(last > first for first, last in pairs[::2])
        cells = [f"{first:g} | {last:g}" for first, last in pairs]
        near = all(_near(proof) for proof in before.proofs)
        met.append(near)
        bounds = sum(proof.lower_bound for proof in before.proofs)
        anyhow = sum(proof.lower_bound_any_joints or 0 for proof in before.proofs)
        cells += [f"{bounds} | {anyhow}", "met" if near else "missed"]
        times = f"{seconds:.1f} | {seconds_by_price:.1f}"
        print(f"| {name} | {len(before.pieces)} | {' | '.join(cells)} | {times} |", flush=True)
    print(f"bound over all joints within its target on {sum(met)} of {len(met)} buildings")
    print(", ".join(f"{key} {value}" for key, value in machine().items()))
    return int(worse)


def _near(proof: Proof) -> bool:
    """Whether the bound over all joints is within the target of the bound for these joints."""
    if proof.lower_bound_any_joints is None:
        return False
    allowed = max(GAP_BOARDS, GAP_SHARE * proof.lower_bound)
    return proof.lower_bound - proof.lower_bound_any_joints <= allowed


def judge_joints(quick: bool = False) -> list[Verdict]:
    """The target of the bound over all joints as a line of the results, without further rounds of joints; `quick`: the
    samples alone."""
    missed, gaps, count, seconds = [], [], 0, 0.0
    for name, project in _projects(0 if quick else BUILDINGS):
        if quick and count == 2:
            break
        made, took = _timed(project, 0)
        count += 1
        seconds += took
        gap = sum(proof.lower_bound - (proof.lower_bound_any_joints or 0) for proof in made.proofs)
        gaps.append(f"{gap}")
        if not all(_near(proof) for proof in made.proofs):
            bound = sum(proof.lower_bound for proof in made.proofs)
            missed.append(f"{name} ({bound - gap} against {bound})")
    return [
        Verdict(
            "joints",
            "the bound over all joints at most a board a product or 0.5 % below that for these joints",
            not missed,
            count - len(missed),
            count,
            count,
            f"boards apart: {', '.join(gaps)}; CPU seconds in all {seconds:.0f}",
            tuple(missed),
            Aim.JOINTS,
        )
    ]


def building(seed: int, *, trim: bool, levels: int = LEVELS) -> Project:
    """An invented building; see the head of this module."""
    random = Random(seed)
    runs: list[Run] = []
    gaps: list[Gap] = []
    for level in range(1, levels + 1):
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
    board = Board(code="B-120", length_mm=1200, width_mm=1000, per_pack=1, price="53.00")
    return Project(
        detail=Detail(trim=trim),
        products=(board,),
        levels=tuple(Level(level=f"L{level:02d}", sequence=level) for level in range(1, levels + 1)),
        runs=tuple(runs),
        gaps=tuple(gaps),
    )


def _projects(buildings: int) -> Iterator[tuple[str, Project]]:
    yield "sample tower", read_project(TOWER)
    yield "small sample", read_project(SMALL)
    yield f"building {HIGH_SEED}, {HIGH_LEVELS} levels", building(HIGH_SEED, trim=True, levels=HIGH_LEVELS)
    for trim in (True, False):
        for seed in range(1, buildings + 1):
            yield f"building {seed}, {'trimmed' if trim else 'not trimmed'}", building(seed, trim=trim)


def _timed(project: Project, rounds: int) -> tuple[Plan, float]:
    started = process_time()
    with limits_by_cpu():
        made = plan(project, joint_rounds=rounds, time_limit=TIME_LIMIT)
    return made, process_time() - started


def _boards(made: Plan) -> int:
    return sum(count.count for count in made.boards.values())


def _joints(made: Plan) -> int:
    return sum(count.joints for count in made.counts.values())


if __name__ == "__main__":
    sys.exit(main())
