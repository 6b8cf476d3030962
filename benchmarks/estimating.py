"""`python -m benchmarks.estimating`: how long the estimator waits for a comparison of gaps and for an allowance.

Invented buildings; every measure repeats the work and takes the median of the clock outside. CPU seconds stand
beside it, since other work on the machine slows the clock but hardly them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import perf_counter, process_time

from benchmarks.report import machine
from benchmarks.verdicts import Verdict
from optimiser.model.project import Anchor, Board, Bracket, Detail, Gap, Level, Project, Run, Tape
from optimiser.simulation.simulate import simulate
from optimiser.studies.comparison import compare, gaps_between

GAPS = (30, 330)  # 301 options
COMPARISON_SECONDS = 3.0
DRAWS = 500
SIMULATION_SECONDS = 5.0
REPEATS = 5


@dataclass(frozen=True)
class Timing:
    """Seconds of the clock and of the processors, of every repeat."""

    seconds: tuple[float, ...]
    cpu_seconds: tuple[float, ...]

    @property
    def words(self) -> str:
        """The medians and the worst."""
        return (
            f"seconds median {median(self.seconds):.2f}, most {max(self.seconds):.2f};"
            f" CPU seconds median {median(self.cpu_seconds):.2f}"
        )


def judge_estimating(repeats: int = REPEATS) -> list[Verdict]:
    """The two targets of estimating: 301 options of a 100 m edge, 500 draws of a 900-piece building."""
    edge, building = edge_of_100_m(), nominal_building()
    first = compare(edge, gaps=gaps_between(*GAPS))
    proved = sum(option.optimal for option in first.options)
    options = len(first.options)
    comparison = timed(lambda: compare(edge, gaps=gaps_between(*GAPS)), repeats)
    drawn = simulate(building, draws=DRAWS, seed=0)
    simulation = timed(lambda: simulate(building, draws=DRAWS, seed=0), repeats)
    return [
        _verdict(
            "gaps",
            f"{options} gap options of a 100 m edge in {COMPARISON_SECONDS:g} s",
            comparison,
            COMPARISON_SECONDS,
            f"{proved} of {options} proved to be the least",
        ),
        _verdict(
            "allowance",
            f"{DRAWS} draws of a building of 900 pieces in {SIMULATION_SECONDS:g} s on 2 processors",
            simulation,
            SIMULATION_SECONDS,
            f"{drawn.pieces_mean:.0f} pieces on average; quick cutting {drawn.bias.fraction:.2%} above the bound",
        ),
    ]


def timed(work: Callable[[], object], repeats: int) -> Timing:
    """The work, repeated."""
    seconds: list[float] = []
    cpu_seconds: list[float] = []
    for _ in range(repeats):
        started, cpu_started = perf_counter(), process_time()
        work()
        seconds.append(perf_counter() - started)
        cpu_seconds.append(process_time() - cpu_started)
    return Timing(tuple(seconds), tuple(cpu_seconds))


def edge_of_100_m() -> Project:
    """Four elevations of 25 m in all 100 m, mullions every 1.5 m."""
    return _project(levels=1, runs=((25_000, 150),) * 4)


def nominal_building() -> Project:
    """Seven levels of four elevations, not surveyed yet: gaps of 150, 120 and 90 mm within 12 mm."""
    return _project(levels=7, runs=((41_850, 150), (27_450, 120), (41_850, 150), (27_450, 90)))


def _project(levels: int, runs: tuple[tuple[int, int], ...]) -> Project:
    """An invented building: (length, nominal gap) of the elevations of each level."""
    brackets = tuple(
        Bracket(code=f"K-{reach}", length_mm=reach, per_pack=50, price="60.00")
        for reach in range(20, 291, 10)
    )
    found, gaps = [], []
    for level in range(1, levels + 1):
        for number, (length_mm, gap_mm) in enumerate(runs):
            name = f"L{level:02d}-{number}"
            mullions = tuple(range(750, length_mm - 150, 1500))
            found.append(
                Run(
                    run=name,
                    level=f"L{level:02d}",
                    length_mm=length_mm,
                    board=("B-120",),
                    mullions_mm=mullions,
                )
            )
            gaps.append(Gap(run=name, at_mm=0, gap_mm=gap_mm, basis="nominal", tolerance_mm=12))
    return Project(
        detail=Detail(correlation_length_mm=3000),
        products=(
            Board(code="B-120", length_mm=1200, width_mm=1000, per_pack=4, price="212.00"),
            *brackets,
            Anchor(code="A-8", per_pack=100, price="41.50"),
            Tape(code="T-75", length_mm=45_000, price="23.10"),
        ),
        levels=tuple(Level(level=f"L{level:02d}", sequence=level) for level in range(1, levels + 1)),
        runs=tuple(found),
        gaps=tuple(gaps),
    )


def _verdict(group: str, statement: str, timing: Timing, limit: float, more: str) -> Verdict:
    met = median(timing.seconds) <= limit
    return Verdict(
        group=group,
        statement=statement,
        met=met,
        reached=sum(seconds <= limit for seconds in timing.seconds),
        needed=1,
        measured=len(timing.seconds),
        numbers=f"{timing.words}; {more}",
        missed_by=() if met else (group,),
    )


def main() -> int:
    """Prints the verdicts: 0 when both targets are met."""
    verdicts = judge_estimating()
    for verdict in verdicts:
        print(f"{verdict.statement}: {'met' if verdict.met else 'MISSED'}; {verdict.numbers}")
    print(", ".join(f"{key} {value}" for key, value in machine().items()))
    return 0 if all(verdict.met for verdict in verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())
