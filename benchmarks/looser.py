"""`python -m benchmarks.looser [--problems N] [--first N]`: whoever may do more never pays more.

Invented problems of 50 to 900 pieces, a problem a number: 1 to 8 levels of a facade on boards 600 or 1000 mm wide, with
up to 20 offcuts and a limit on carrying of 0, 1, 2 or none. Each is solved, and again with one more offcut, board size,
delivery of carrying, millimetre of every window (at its upper end, at its lower), and twice a short time limit;
whatever costs more than before is listed. Target: none. Seconds are by CPU.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random
from time import process_time

from benchmarks.aims import Aim
from benchmarks.by_cpu import limits_by_cpu
from benchmarks.instances.facade import facade_level
from benchmarks.verdicts import Verdict
from optimiser.cutting.problem import Board, CuttingProblem, Objective, Offcut
from optimiser.cutting.solve import solve

FEWEST_PIECES, MOST_PIECES = 50, 900
MOST_LEVELS = 8
PIECES_A_LEVEL = (20, 110)
WIDTHS_MM = (600, 1000)
OFFCUTS = (0, 1, 3, 8, 20)
OFFCUT_LENGTHS_MM = (450, 1200)
OFFCUT_WIDTHS_MM = (90, 700)
CARRIED = (None, 0, 1, 2)
PRICE_A_MM = 6  # cents a mm of board width
SHORT_LIMIT = 0.2  # seconds; the looser problem has twice as long
PROBLEMS = 200
QUICK_PROBLEMS = 2


@dataclass(frozen=True)
class Loosened:
    """A problem and what it was solved within, by what it was loosened."""

    by: str
    before: CuttingProblem
    after: CuttingProblem
    limits: tuple[float | None, float | None] = (None, None)


def problem_numbered(number: int) -> CuttingProblem:
    """The problem of this number, the same for ever."""
    random = Random(f"looser {number}")
    levels = random.randint(1, MOST_LEVELS)
    a_level = max(FEWEST_PIECES // levels + 1, min(MOST_PIECES // levels, random.randint(*PIECES_A_LEVEL)))
    pieces = tuple(piece for level in range(1, levels + 1) for piece in facade_level(level, a_level, random))
    offcuts = tuple(_offcut(f"F{k:02d}", levels, random) for k in range(1, random.choice(OFFCUTS) + 1))
    return CuttingProblem(
        boards=(Board(length_mm=1200, width_mm=random.choice(WIDTHS_MM)),),
        pieces=pieces,
        offcuts=offcuts,
        max_carry_stages=random.choice(CARRIED),
        objective=Objective.FEWEST_BOARDS,
    )


def _offcut(name: str, levels: int, random: Random) -> Offcut:
    return Offcut(
        id=name,
        length_mm=random.randint(*OFFCUT_LENGTHS_MM),
        width_mm=random.randint(*OFFCUT_WIDTHS_MM),
        stage=random.randint(1, levels),
    )


def loosened(number: int) -> Iterator[Loosened]:
    """Every way to allow a little more in the problem of this number."""
    problem = problem_numbered(number)
    random = Random(f"loosened {number}")
    levels = max(piece.stage for piece in problem.pieces)
    more = _offcut("one more", levels, random)
    yield Loosened("an offcut", problem, problem.model_copy(update={"offcuts": (*problem.offcuts, more)}))
    yield Loosened("a size", _priced(problem, problem.boards), _priced(problem, _both_widths(problem)))
    if problem.max_carry_stages is not None:
        further = problem.max_carry_stages + 1
        yield Loosened("a delivery", problem, problem.model_copy(update={"max_carry_stages": further}))
    for end, lower, upper in (("upper", 0, 1), ("lower", -1, 0)):
        pieces = tuple(
            piece.model_copy(
                update={
                    "width_min_mm": piece.width_min_mm + lower,
                    "width_max_mm": piece.width_max_mm + upper,
                }
            )
            for piece in problem.pieces
        )
        yield Loosened(f"a mm, {end} end", problem, problem.model_copy(update={"pieces": pieces}))
    yield Loosened("time", problem, problem, (SHORT_LIMIT, 2 * SHORT_LIMIT))


def _both_widths(problem: CuttingProblem) -> tuple[Board, ...]:
    (board,) = problem.boards
    other = next(width for width in WIDTHS_MM if width != board.width_mm)
    return (board, board.model_copy(update={"code": "other", "width_mm": other}))


def _priced(problem: CuttingProblem, boards: Sequence[Board]) -> CuttingProblem:
    """The problem with these boards, by their cost."""
    priced = tuple(board.model_copy(update={"price_cents": PRICE_A_MM * board.width_mm}) for board in boards)
    return problem.model_copy(update={"boards": priced, "objective": Objective.LEAST_COST})


@dataclass(frozen=True)
class Found:
    """What was paid before and after, and whether both are proved."""

    number: int
    by: str
    before: int
    after: int
    proved: bool
    cpu_seconds: float

    @property
    def dearer(self) -> bool:
        """Whether more was paid where more was allowed."""
        return self.after > self.before


def measure(number: int) -> Iterator[Found]:
    """Every way to loosen the problem of this number, solved before and after."""
    known: dict[tuple[CuttingProblem, float | None], tuple[int, bool]] = {}
    for pair in loosened(number):
        started = process_time()
        costs = []
        for problem, limit in ((pair.before, pair.limits[0]), (pair.after, pair.limits[1])):
            if (problem, limit) not in known:
                with limits_by_cpu():
                    result = solve(problem, time_limit=limit, waiting=False)
                known[problem, limit] = (int(result.cost), result.optimal)
            costs.append(known[problem, limit])
        (before, first), (after, second) = costs
        yield Found(number, pair.by, before, after, first and second, round(process_time() - started, 2))


def judge_looser(quick: bool = False) -> list[Verdict]:
    """The target as a line of the results."""
    count = QUICK_PROBLEMS if quick else PROBLEMS
    return [_verdict([found for number in range(count) for found in measure(number)])]


def _verdict(found: Sequence[Found]) -> Verdict:
    dearer = tuple(
        f"problem {one.number}, {one.by} more ({one.after} against {one.before})"
        for one in found
        if one.dearer
    )
    proved = sum(one.proved for one in found)
    return Verdict(
        "looser",
        f"{PROBLEMS} problems of {FEWEST_PIECES} to {MOST_PIECES} pieces: one more offcut, size, delivery, mm or second"
        " never costs more",
        not dearer,
        len(found) - len(dearer),
        len(found),
        len(found),
        f"{len({one.number for one in found})} problems; {proved} pairs proved before and after;"
        f" CPU seconds in all {sum(one.cpu_seconds for one in found):.0f}",
        dearer,
        Aim.LOOSER,
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints a line a pair; 1 when one is dearer."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.looser")
    parser.add_argument("--problems", type=int, default=PROBLEMS)
    parser.add_argument("--first", type=int, default=0, help="the number of the first")
    options = parser.parse_args(arguments)
    every: list[Found] = []
    for number in range(options.first, options.first + options.problems):
        for found in measure(number):
            every.append(found)
            mark = "  DEARER" if found.dearer else ""
            print(
                f"{number} {found.by}: {found.before} -> {found.after}, {found.cpu_seconds} s{mark}",
                flush=True,
            )
    verdict = _verdict(every)
    print(f"{verdict.statement}: {verdict.reached} of {verdict.measured}; {verdict.numbers}")
    return 0 if verdict.met else 1


if __name__ == "__main__":
    sys.exit(main())
