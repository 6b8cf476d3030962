"""What tapered pieces save on uneven edges: `python -m benchmarks.tapers [--results FILE]`.

A job of 9 levels whose gaps wander, and two surveys whose readings every 1.5 m differ independently by N(0, 8 mm):
`instances/uneven_edges.py`. Each is planned as the tool plans it, and without tapers (`taper_max_mm` 0); and beside
stands what it was planned with while pieces were tapered only where not even the shortest straight one served. Targets:
at most 3 % more joints than the least that lengths and mullions allow, which is what the same edges take with one gap
all along; and an order of boards, brackets, anchors and tape that is no dearer than before: as it is placed, in whole
packs with the allowance, brackets of the nearest size; and in whole packs without it. What it would cost by the single
piece stands beside. `python -m benchmarks` runs them with the rest.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from time import process_time
from typing import NamedTuple

from rich.console import Console
from rich.table import Table

from benchmarks import report
from benchmarks.instances.uneven_edges import in_packs, uneven_survey, wandering_job
from benchmarks.verdicts import Verdict
from optimiser.joints.layout import lay_out
from optimiser.model.money import cents_of
from optimiser.model.plan import Plan
from optimiser.model.project import Gap, Project
from optimiser.planning.plan import plan

MORE_JOINTS = 0.03  # than the least
ANY_GAP_MM = 150  # all along an edge, so that nothing but lengths and mullions decides its joints


class Before(NamedTuple):
    """A plan by the rule before: a piece was tapered only where no single width served even the shortest piece."""

    joints: int
    tapers: int
    boards: int
    cents: int
    """The order as it is placed: whole packs, with the allowance."""
    packs_cents: int
    """In whole packs without an allowance."""
    single_cents: int
    """By the single piece."""


@dataclass(frozen=True)
class Case:
    """A job, and what it was planned with before."""

    name: str
    make: Callable[[], Project]
    before: Before


# `before`: this repository's planner as it stood until tapers became a choice, on the same jobs
CASES = (
    Case("9 levels, wandering", wandering_job, Before(971, 6, 151, 1_258_060, 1_204_210, 1_153_060)),
    Case("N(0, 8 mm), seed 1", partial(uneven_survey, 1), Before(795, 28, 104, 921_100, 881_150, 828_142)),
    Case("N(0, 8 mm), seed 2", partial(uneven_survey, 2), Before(808, 23, 112, 975_050, 942_300, 863_098)),
)


@dataclass(frozen=True)
class Found:
    """A job planned: joints, tapered pieces, boards and the order's cents; without tapers too; the least joints."""

    case: str
    least_joints: int
    before: Before
    without: Before
    now: Before
    seconds: float

    @property
    def more_joints(self) -> float:
        """Joints beyond the least, as a part of it."""
        return self.now.joints / self.least_joints - 1

    @property
    def few_joints(self) -> bool:
        """Whether there are few enough."""
        return self.more_joints <= MORE_JOINTS

    @property
    def no_dearer(self) -> bool:
        """Whether the order costs no more than before, with the allowance and without."""
        return self.now.cents <= self.before.cents and self.now.packs_cents <= self.before.packs_cents


def measure_all() -> Iterator[Found]:
    """Each job planned, and planned without tapers."""
    for case in CASES:
        project = case.make()
        straight = project.model_copy(
            update={"detail": project.detail.model_copy(update={"taper_max_mm": 0})}
        )
        started = process_time()
        placed = plan(in_packs(project))
        seconds = process_time() - started
        yield Found(
            case.name,
            least_joints(project),
            case.before,
            _figures(plan(in_packs(straight), advise=False), straight),
            _figures(placed, project),
            seconds,
        )


def least_joints(project: Project) -> int:
    """The fewest joints that lengths and mullions allow, whatever the gaps."""
    level = tuple(Gap(run=run.run, at_mm=0, gap_mm=ANY_GAP_MM) for run in project.runs)
    return len(lay_out(project.model_copy(update={"gaps": level})).pieces) - len(project.runs)


def _figures(placed: Plan, project: Project) -> Before:
    in_whole_packs = plan(in_packs(project, as_placed=False), advise=False)
    singly = plan(project, advise=False)
    if placed.not_planned:
        raise ValueError("a place of this job cannot be planned, so that its order says too little")
    return Before(
        sum(count.joints for count in placed.counts.values()),
        sum(piece.tapered for piece in placed.pieces),
        sum(count.count for count in placed.boards.values()),
        cents_of(placed.order.total),
        cents_of(in_whole_packs.order.total),
        cents_of(singly.order.total),
    )


def judge_tapers() -> list[Verdict]:
    """The targets of tapers as lines of the results."""
    results = list(measure_all())
    statements = (
        (f"at most {MORE_JOINTS:.0%} more joints than the least", lambda found: found.few_joints),
        (
            "the order as placed, whole packs, no dearer than with straight pieces first",
            lambda found: found.no_dearer,
        ),
    )
    verdicts = []
    for statement, holds in statements:
        missed = tuple(found.case for found in results if not holds(found))
        reached = len(results) - len(missed)
        numbers = "; ".join(
            f"{found.more_joints:+.1%} joints, {found.now.cents / found.before.cents - 1:+.1%} cost as placed"
            for found in results
        )
        verdicts.append(
            Verdict("tapers", statement, not missed, reached, len(results), len(results), numbers, missed)
        )
    return verdicts


HEADINGS = (
    "",
    "least joints",
    "joints",
    "tapered",
    "boards",
    "as placed",
    "whole packs",
    "single pieces",
    "seconds",
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Prints a table of before, without tapers and now; 0 where both targets are met on every job."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.tapers", description=__doc__)
    parser.add_argument("--results", type=Path, metavar="FILE", help="write the figures as JSON")
    options = parser.parse_args(arguments)
    console = Console(width=None if sys.stdout.isatty() else 120)
    results = list(measure_all())
    for found in results:
        table = Table(title=found.case, title_justify="left")
        for heading in HEADINGS:
            table.add_column(heading, justify="right" if heading else "left")
        rows = (
            ("straight pieces first (before)", found.before),
            ("no tapers", found.without),
            ("now", found.now),
        )
        for name, figures in rows:
            more = figures.joints / found.least_joints - 1
            table.add_row(
                name, str(found.least_joints), f"{figures.joints} ({more:+.1%})", str(figures.tapers),
                str(figures.boards), f"{figures.cents / 100:,.2f}", f"{figures.packs_cents / 100:,.2f}",
                f"{figures.single_cents / 100:,.2f}",
                f"{found.seconds:.1f}" if name == "now" else "",
            )  # fmt: skip
        console.print(table)
    met = all(found.few_joints and found.no_dearer for found in results)
    console.print(
        f"joints at most {MORE_JOINTS:.0%} above the least and the order as placed, in whole packs, no dearer:"
        f" {'met' if met else 'MISSED'} on {sum(f.few_joints and f.no_dearer for f in results)} of {len(results)}; "
        + ", ".join(f"{key} {value}" for key, value in report.machine().items()),
        highlight=False,
    )
    if options.results:
        figures = {"machine": report.machine(), "jobs": [asdict(found) for found in results]}
        options.results.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
