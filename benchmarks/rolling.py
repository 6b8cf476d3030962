"""How many boards a building takes that is measured level by level: `python -m benchmarks.rolling [--cases N]`.

Each level is cut when it is due, from what earlier levels left and from new boards, with nothing known of later levels
but their nominal gaps and tolerances (`boards.view_ahead`); at most 20 remainders are kept from level to level. Beside
it stands the plan that knew every reading from the start, with its proved bound. 20 facades of size M (seeds 1 to 20)
and the sample tower without its stock. `python -m benchmarks` runs them with the rest.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from time import process_time

from rich.console import Console
from rich.table import Table

from benchmarks.instances.rising_facade import RisingBuilding, rising_facade, rising_tower
from benchmarks.verdicts import Verdict
from optimiser.boards.view_ahead import MOST_RACKED, Worth, left_of, room_on_the_rack, with_view_ahead
from optimiser.checking import broken_rules_of_result
from optimiser.cutting.problem import CuttingProblem, CuttingResult, Offcut
from optimiser.cutting.solve import solve
from optimiser.model.sizes import Size

SEEDS = tuple(range(1, 21))
ON_AVERAGE, OF_THE_TOWER = 0.005, 0.01  # above knowing everything


@dataclass(frozen=True)
class Rolled:
    """A building cut level by level: `boards` in all, beside those in `hindsight` and their bound; `racked`: the most
    remainders that were kept from one level to the next."""

    case: str
    boards: int
    hindsight: int
    lower_bound: int
    racked: int
    cpu_seconds: float
    broken: tuple[str, ...] = ()

    def __add__(self, other: Rolled) -> Rolled:
        return Rolled(
            self.case,
            self.boards + other.boards,
            self.hindsight + other.hindsight,
            self.lower_bound + other.lower_bound,
            self.racked + other.racked,
            round(self.cpu_seconds + other.cpu_seconds, 1),
            (*self.broken, *other.broken),
        )


def _plain(problem: CuttingProblem, seconds: float | None) -> CuttingResult:
    return solve(problem, time_limit=seconds, waiting=False)


def rolled(case: str, building: RisingBuilding, most_racked: int = MOST_RACKED) -> Rolled:
    """Every level cut when it is due, with room for so many remainders; the independent checker judges each cut."""
    began = process_time()
    code = building.problem.boards[0].code
    rack: list[Size] = []
    boards = racked = 0
    broken: list[str] = []
    for stage in sorted({piece.stage for piece in building.problem.pieces}):
        later = [piece for piece in building.forecast if piece.stage > stage]
        problem = building.problem.model_copy(
            update={
                "pieces": tuple(piece for piece in building.problem.pieces if piece.stage == stage),
                "offcuts": tuple(
                    Offcut(
                        id=f"remainder {number}",
                        length_mm=size.length_mm,
                        width_mm=size.width_mm,
                        stage=stage,
                        code=code,
                    )
                    for number, size in enumerate(rack)
                ),
            }
        )
        result = with_view_ahead(_plain, later, 0, most_racked)(problem, None)
        broken += broken_rules_of_result(result, problem)
        boards += result.boards
        rack = []
        if later:
            left, _ = left_of(problem, result)
            rack = Worth.of(problem, later).best_of(left, most_racked)
        racked = max(racked, len(rack))
    seconds = round(process_time() - began, 1)
    known = solve(building.problem, waiting=False)
    return Rolled(case, boards, known.boards, known.lower_bound, racked, seconds, tuple(broken))


def measure_all(most: int | None = None) -> Iterator[Rolled]:
    """The facades, at most so many, and the tower: its boards share the rack and are counted together."""
    for seed in SEEDS[:most]:
        yield rolled(f"facade {seed:02d}", rising_facade(seed))
    tower = rising_tower()
    rooms = room_on_the_rack({_codes(building): building.forecast for building in tower})
    first, *others = [rolled("tower", building, rooms[_codes(building)]) for building in tower]
    yield sum(others, start=first)


def _codes(building: RisingBuilding) -> tuple[str, ...]:
    return tuple(board.code for board in building.problem.boards)


def judge_rolling(quick: bool = False) -> list[Verdict]:
    """The targets as lines of the results; `quick`: two facades only, beside the tower."""
    results = list(measure_all(2 if quick else None))
    facades, tower = results[:-1], results[-1]
    above = sum(one.boards for one in facades) / sum(one.hindsight for one in facades) - 1
    full = tuple(one.case for one in results if one.racked > MOST_RACKED or one.broken)
    return [
        Verdict(
            "rolling facades",
            f"on average at most {ON_AVERAGE:.1%} above knowing everything",
            above <= ON_AVERAGE,
            sum(one.boards == one.hindsight for one in facades),
            0,
            len(facades),
            f"{above:.2%}: {sum(one.boards for one in facades)} boards, {sum(one.hindsight for one in facades)} in"
            f" hindsight; most CPU seconds {max(one.cpu_seconds for one in facades):.0f}",
            () if above <= ON_AVERAGE else tuple(one.case for one in facades if one.boards > one.hindsight),
        ),
        Verdict(
            "rolling tower",
            f"at most {OF_THE_TOWER:.0%} above knowing everything",
            tower.boards <= (1 + OF_THE_TOWER) * tower.hindsight,
            1,
            1,
            1,
            f"{tower.boards} boards, {tower.hindsight} in hindsight (bound {tower.lower_bound})",
            () if tower.boards <= (1 + OF_THE_TOWER) * tower.hindsight else ("tower",),
        ),
        Verdict(
            "rolling racks",
            f"at most {MOST_RACKED} remainders kept",
            not full,
            len(results) - len(full),
            len(results),
            len(results),
            f"most {max(one.racked for one in results)}",
            full,
        ),
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """0 when every target is met, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.rolling")
    parser.add_argument("--cases", type=int, metavar="N", help="at most so many facades")
    options = parser.parse_args(arguments)
    console = Console(width=None if sys.stdout.isatty() else 160)
    table = Table(
        "case", "boards", "in hindsight", "bound", "above", "racked", "CPU s", "broken rules", title="Rolling"
    )
    results: list[Rolled] = []
    for one in measure_all(options.cases):
        results.append(one)
        row = [
            one.case,
            str(one.boards),
            str(one.hindsight),
            str(one.lower_bound),
            f"{one.boards / one.hindsight - 1:.2%}",
            str(one.racked),
            f"{one.cpu_seconds:.1f}",
            "; ".join(one.broken),
        ]
        table.add_row(*row)
        console.print(" ".join(row), highlight=False)
    console.print(table)
    facades = results[:-1]
    above = sum(one.boards for one in facades) / sum(one.hindsight for one in facades) - 1
    console.print(f"facades: {above:.2%} above knowing everything, of at most {ON_AVERAGE:.1%}")
    tower = results[-1]
    met = above <= ON_AVERAGE and tower.boards <= (1 + OF_THE_TOWER) * tower.hindsight
    return 0 if met and not any(one.broken for one in results) else 1


if __name__ == "__main__":
    sys.exit(main())
