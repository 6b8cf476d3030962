"""The results as tables and as JSON."""

from __future__ import annotations

import os
import platform
import subprocess
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from statistics import median
from typing import Any

from benchmarks.aims import Aim
from benchmarks.comparison import Comparison
from benchmarks.measuring import Measurement
from benchmarks.registry import Group
from benchmarks.verdicts import Verdict


@dataclass(frozen=True)
class Results:
    """All that one run of the benchmarks showed."""

    command: str
    machine: dict[str, str]
    verdicts: list[Verdict]
    groups: list[tuple[Group, list[Measurement]]]
    comparisons: list[Comparison]
    failures: dict[str, str]
    seconds: float
    elsewhere: dict[str, str] = field(default_factory=dict)
    """By part the commit at which it was measured, where that is another one."""

    def as_json(self) -> dict[str, Any]:
        """Everything, case by case."""
        return {
            "command": self.command,
            "machine": self.machine,
            "seconds": round(self.seconds, 1),
            "failures": self.failures,
            "measured_at": self.elsewhere,
            "targets": [asdict(verdict) for verdict in self.verdicts],
            "groups": [
                {
                    "name": group.name,
                    "title": group.title,
                    "time_limit": group.time_limit,
                    "cases": [asdict(one) for one in measurements],
                }
                for group, measurements in self.groups
            ],
            "comparisons": [asdict(comparison) for comparison in self.comparisons],
        }

    def as_markdown(self) -> str:
        """The tables a person reads: targets, groups, rivals."""
        machine = ", ".join(f"{key} {value}" for key, value in self.machine.items())
        sections = [
            "# Benchmark results",
            f"`{self.command}` took {self.seconds:.0f} s. {machine}. Seeds are the numbers in the"
            " cases' names; the solver's seed is 0. Seconds are the slower of the solver's own clock and one"
            " around the call, unless said otherwise.",
            *(
                f"Measured at {commit}: {', '.join(name for name, at in self.elsewhere.items() if at == commit)}."
                for commit in dict.fromkeys(self.elsewhere.values())
            ),
            "## Aims on real projects",
            markdown_table(AIM_HEADINGS, aim_rows(self.verdicts)),
            "Of an aim that has no line here nothing was measured in this run.",
            "## Other targets",
            markdown_table(TARGET_HEADINGS, target_rows(self.verdicts)),
            *(f"{case} FAILED: {error}" for case, error in self.failures.items()),
            "## All cases",
            markdown_table(GROUP_HEADINGS, group_rows(self.groups)),
            "'Through the command' is the median of whole `barrier-orders cut` processes: start-up, reading"
            " and writing included; 'same plan' counts those whose plan equals the one in process.",
            "## Side by side",
            markdown_table(COMPARISON_HEADINGS, comparison_rows(self.comparisons)),
            "Sums over the cases compared; in cents where sizes have prices. 'fixed width' and 'level by level' are"
            " this solver on the problem without windows and without carry between levels; 'CP-SAT' is a direct"
            " level-packing model; 'plain LP' gives a bound and no plan; 'one size', 'without offcuts' and 'first fit,"
            " wide board alone' leave aside what a case adds.",
        ]
        return "\n\n".join(sections) + "\n"


AIM_HEADINGS = ("aim", "case", "target", "", "reached", "numbers", "missed by")
TARGET_HEADINGS = ("case", "target", "", "reached", "numbers", "missed by")
GROUP_HEADINGS = (
    "group",
    "cases",
    "proved optimal",
    "at the known optimum",
    "most boards above bound",
    "median s",
    "most s",
    "median CPU s",
    "through the command, s",
    "same plan",
    "peak MB",
    "broken rules",
)
COMPARISON_HEADINGS = (
    "group",
    "cases",
    "way",
    "boards",
    "bound",
    "seconds",
    "boards ratio",
    "time ratio",
    "",
)


def aim_rows(verdicts: Iterable[Verdict]) -> list[list[str]]:
    """A row a target of the aims, in their order."""
    order = list(Aim)
    of_aims = [(order.index(verdict.aim), verdict) for verdict in verdicts if verdict.aim is not None]
    return [[order[at], *_target_row(verdict)] for at, verdict in sorted(of_aims, key=lambda item: item[0])]


def target_rows(verdicts: Iterable[Verdict]) -> list[list[str]]:
    """A row a target that is no part of an aim: met or missed, with its numbers."""
    return [_target_row(verdict) for verdict in verdicts if verdict.aim is None]


def _target_row(verdict: Verdict) -> list[str]:
    return [
        verdict.group,
        verdict.statement,
        verdict.outcome,
        f"{verdict.reached} of {verdict.measured}",
        verdict.numbers,
        _first_few(verdict.missed_by),
    ]


def group_rows(groups: Iterable[tuple[Group, list[Measurement]]]) -> list[list[str]]:
    """A row a group of cases."""
    return [_group_row(group, measurements) for group, measurements in groups if measurements]


def _group_row(group: Group, measurements: list[Measurement]) -> list[str]:
    known = [one for one in measurements if one.known_optimum is not None]
    by_command = [one for one in measurements if one.command_seconds is not None]
    seconds = [one.seconds for one in measurements]
    return [
        group.title,
        str(len(measurements)),
        str(sum(one.optimal for one in measurements)),
        f"{sum(one.boards == one.known_optimum for one in known)} of {len(known)}" if known else "-",
        str(max(one.boards - one.lower_bound for one in measurements)),
        f"{median(seconds):.3f}",
        f"{max(seconds):.3f}",
        f"{median(one.cpu_seconds for one in measurements):.3f}",
        f"{median(one.command_seconds or 0 for one in by_command):.2f}" if by_command else "-",
        f"{sum(bool(one.same_plan_again) for one in by_command)} of {len(by_command)}" if by_command else "-",
        f"{max(one.command_megabytes or 0 for one in by_command):.0f}" if by_command else "-",
        str(sum(bool(one.broken_rules) or not one.proved_bound_holds for one in measurements)),
    ]


def comparison_rows(comparisons: Iterable[Comparison]) -> list[list[str]]:
    """A row a group and way."""
    return [
        [
            row.group,
            str(row.cases),
            row.way,
            "-" if row.boards is None else str(row.boards),
            "-" if row.lower_bound is None else str(row.lower_bound),
            f"{row.seconds:.3f}",
            "-" if row.boards_ratio is None else f"{row.boards_ratio:.3f}",
            f"{row.seconds_ratio:.2f}",
            _first_few(row.notes),
        ]
        for row in comparisons
    ]


def _first_few(texts: Sequence[str], count: int = 4) -> str:
    more = f" and {len(texts) - count} more" if len(texts) > count else ""
    return ", ".join(texts[:count]) + more


def markdown_table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A GitHub-flavoured table; a bar in a cell is written as an entity."""
    lines = ["| " + " | ".join(headings) + " |", "|" + " --- |" * len(headings)]
    lines += ["| " + " | ".join(cell.replace("|", "&#124;") for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def machine() -> dict[str, str]:
    """What the numbers were measured on."""
    return {
        "on": datetime.now(UTC).date().isoformat(),
        "commit": _commit(),
        "processor": _processor(),
        "cores": str(len(os.sched_getaffinity(0))),
        "load before": f"{os.getloadavg()[0]:.1f}",
        "Python": platform.python_version(),
        **{package: version(package) for package in ("ortools", "highspy", "numpy")},
    }


def _commit() -> str:
    folder = Path(__file__).resolve().parent
    try:
        done = subprocess.run(
            ["git", "rev-parse", "--short", "HEAD"], cwd=folder, capture_output=True, text=True, check=True
        )
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return done.stdout.strip()


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or "unknown"
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()
