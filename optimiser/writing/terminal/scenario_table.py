"""Scenarios side by side as a table on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from optimiser.studies.scenario_result import ScenarioComparison
from optimiser.tables.columns import only
from optimiser.tables.scenarios import IN_SHORT, SCENARIOS
from optimiser.writing.terminal.console import DECIDES, filled_table, print_list, terminal

_SHORT = {
    "waiting_piece_stages": "Waiting",
    "lower_bound": "At least",
    "scrap_fraction": "Scrap",
    "deliveries": "Days",
    "widths": "Widths",
}


def show_scenarios(found: ScenarioComparison, written: Sequence[Path]) -> None:
    """Prints the table, what differs, what could not be planned, the frontiers, warnings, and where the files are."""
    console = terminal(120)
    problems = any(result.problem for result in found.results)
    names = [name for name in IN_SHORT if name != "problem" or problems]
    columns = [
        replace(column, short=_SHORT.get(column.name, column.short), unit="")
        for column in only(SCENARIOS, *names)
    ]
    console.print(filled_table("Scenarios", columns, found.results, found.currency, close=True))
    print_list(
        console,
        "What differs",
        [f"{result.scenario.name}: {result.scenario.words}" for result in found.results],
    )
    for against, words in (("waiting_piece_stages", "waiting"), ("deliveries", "deliveries")):
        names = [result.scenario.name for result in found.results if against in result.unbeaten]
        if names:
            console.print(f"Not beaten on cost and {words}: {', '.join(names)}")
    told: dict[str, list[str]] = {}
    for result in found.results:
        for warning in result.figures.warnings if result.figures else ():
            told.setdefault(warning, []).append(result.scenario.name)
    alike = len([result for result in found.results if result.figures])
    print_list(
        console,
        "Warnings",
        [w if len(of) == alike else f"{', '.join(of)}: {w}" for w, of in told.items()],
    )
    print_list(console, "What the figures rest on", found.notes)
    console.print(DECIDES)
    for path in written:
        console.print(f"written: {path}")
