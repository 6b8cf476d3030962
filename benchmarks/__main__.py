"""`python -m benchmarks [--only NAME] [--quick] [--results FOLDER] [--parts FOLDER]`: the cutting solver, start-up,
estimating, what waits, levels cut as they are measured, what tapers save, the aims on real projects (`aims.py`),
a row a target.

`--only` takes the beginning of the name of a group (`registry`), of one of the open cases (`open_cases`) or of a
section (`sections`): `--only sizes`, `--only rack`, `--only looser`, `--only joints`, `--only anytime`. A full run
writes, after some hours, `results.json` and `results.md` beside this module; a partial one where `--results` says. With
`--parts` each group and section is kept when it is measured, and one that is there is not measured again: a run that
was broken off goes on.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from time import perf_counter

from rich.console import Console
from rich.table import Table

from benchmarks import report, sections
from benchmarks.comparison import Comparison, compare
from benchmarks.instances.two_stage import InstancesUnavailableError
from benchmarks.measuring import Measurement, measure
from benchmarks.parts import Part, kept_or_measured
from benchmarks.registry import TARGETS, Group, groups_named
from benchmarks.verdicts import Verdict, judge

QUICK_CASES = 2
QUICK_RIVAL_SECONDS = 2.0
WIDTH_IN_A_FILE = 220  # columns, where there is no terminal to ask


def main(arguments: list[str] | None = None) -> int:
    """Runs the benchmarks: 0 when every target measured is met, 1 when one is missed, 2 for bad options."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description="Measures the cutting solver.")
    parser.add_argument(
        "--only", metavar="NAME", help="only what begins so, such as facade-XL, sizes, rack, carry or looser"
    )
    parser.add_argument(
        "--quick", action="store_true", help=f"the first {QUICK_CASES} cases of each small group"
    )
    parser.add_argument(
        "--results", type=Path, metavar="FOLDER", help="where results.json and .md are written"
    )
    parser.add_argument(
        "--parts", type=Path, metavar="FOLDER", help="where what is measured is kept, to go on after a break"
    )
    parser.add_argument(
        "--only-kept", action="store_true", help="measure nothing: the tables of what is in --parts alone"
    )
    options = parser.parse_args(arguments)
    groups = list(groups_named(options.only))
    if not groups and not sections.is_one(options.only):
        print(f"no group begins with {options.only!r}", file=sys.stderr)
        return 2
    if options.quick:
        groups = [_quick(group) for group in groups if _is_small(group)]
    folder = options.results
    if folder is None and not options.only and not options.quick:
        folder = Path(__file__).resolve().parent
    console = Console() if sys.stdout.isatty() else Console(width=WIDTH_IN_A_FILE)
    command = " ".join(["python -m benchmarks", *(sys.argv[1:] if arguments is None else arguments)])
    measured = partial(kept_or_measured, folder=options.parts, only_kept=options.only_kept)
    results = _run(groups, command, console, options.only or "", options.quick, measured)
    _print(results, console)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        text = json.dumps(results.as_json(), indent=1) + "\n"
        (folder / "results.json").write_text(text, encoding="utf-8")
        (folder / "results.md").write_text(results.as_markdown(), encoding="utf-8")
    return 0 if all(verdict.met or not verdict.measured for verdict in results.verdicts) else 1


def _quick(group: Group) -> Group:
    return replace(
        group,
        cases=group.cases[:QUICK_CASES],
        rival_cases=1,
        rival_time_limit=QUICK_RIVAL_SECONDS,
        command_cases=1,
    )


def _is_small(group: Group) -> bool:
    return group.name != "facade-XXL"


def _run(
    groups: list[Group],
    command: str,
    console: Console,
    only: str,
    quick: bool,
    part_of: Callable[..., Part],
) -> report.Results:
    machine = report.machine()
    measured: list[tuple[Group, list[Measurement]]] = []
    parts: list[Part] = []
    for group in groups:
        console.print(f"{group.title}: {len(group.cases)} cases", highlight=False)
        part = part_of(group.name, measured=partial(_part_of_group, group, machine["commit"]))
        measured.append((group, list(part.measurements)))
        parts.append(_told(console, part))
    for name, section in sections.named(only, quick):
        console.print(f"{name}:", highlight=False)
        part = part_of(name, measured=partial(_part_of_section, name, section, machine["commit"]))
        parts.append(_told(console, part))
    return report.Results(
        command,
        machine,
        [verdict for part in parts for verdict in part.verdicts],
        measured,
        [comparison for part in parts for comparison in part.comparisons],
        {case: words for part in parts for case, words in part.failures.items()},
        sum(part.seconds for part in parts),
        {part.name: part.commit for part in parts if part.commit not in ("", machine["commit"])},
    )


def _part_of_group(group: Group, commit: str) -> Part:
    """All cases of a group, and its rivals."""
    started = perf_counter()
    unavailable = ""
    try:
        measurements, failed = _measured(group)
    except InstancesUnavailableError as error:
        measurements, failed, unavailable = [], {}, str(error)
    comparisons: list[Comparison] = []
    if measurements and group.rivals:
        sound = [case for case in group.cases if case.name not in failed]
        comparisons = compare(group, sound[: group.rival_cases])
    verdicts = [judge(target, measurements, failed) for target in TARGETS if target.group == group.name]
    return Part(
        group.name,
        commit,
        perf_counter() - started,
        tuple(measurements),
        tuple(verdicts),
        tuple(comparisons),
        failed,
        unavailable,
    )


def _part_of_section(name: str, section: sections.Judge, commit: str) -> Part:
    """A section's targets, and its rivals."""
    started = perf_counter()
    verdicts, comparisons = section()
    return Part(
        name,
        commit,
        perf_counter() - started,
        verdicts=tuple(verdicts),
        comparisons=tuple(comparisons),
    )


def _told(console: Console, part: Part) -> Part:
    if part.unavailable:
        console.print(f"  not measured: {part.unavailable}", highlight=False)
    for case, failure in part.failures.items():
        console.print(f"  {case} failed: {failure}", highlight=False)
    for verdict in part.verdicts:
        _tell(console, verdict)
    return part


def _tell(console: Console, verdict: Verdict) -> None:
    console.print(
        f"  {verdict.group}: {verdict.statement}: {verdict.outcome}; {verdict.numbers}", highlight=False
    )


def _measured(group: Group) -> tuple[list[Measurement], dict[str, str]]:
    """All cases of a group; a solver that breaks down on one is a finding, not the end of the benchmark."""
    measurements: list[Measurement] = []
    failed: dict[str, str] = {}
    for number, case in enumerate(group.cases):
        try:
            measurements.append(measure(case, group, through_command=number < group.command_cases))
        except InstancesUnavailableError:
            raise
        except Exception as error:
            failed[case.name] = f"{type(error).__name__}: {error}"
    return measurements, failed


def _print(results: report.Results, console: Console) -> None:
    for title, headings, rows in (
        ("Aims on real projects", report.AIM_HEADINGS, report.aim_rows(results.verdicts)),
        ("Other targets", report.TARGET_HEADINGS, report.target_rows(results.verdicts)),
        ("All cases", report.GROUP_HEADINGS, report.group_rows(results.groups)),
        ("Side by side", report.COMPARISON_HEADINGS, report.comparison_rows(results.comparisons)),
    ):
        if not rows:
            continue
        table = Table(title=title, title_justify="left")
        for heading in headings:
            table.add_column(heading)
        for row in rows:
            table.add_row(*row)
        console.print(table)
    machine = ", ".join(f"{key} {value}" for key, value in results.machine.items())
    console.print(f"{results.command}: {results.seconds:.0f} s; {machine}", highlight=False)


if __name__ == "__main__":
    sys.exit(main())
