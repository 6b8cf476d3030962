"""`barrier-orders stagings`: what each way of staging the deliveries costs, side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import Marked, ProjectFile, Seconds, Seed, read_or_mark


def stagings(
    project: ProjectFile,
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Also write stagings.csv, frontier.csv, frontier.svg and levels-*.svg there.",
        ),
    ] = None,
    time_limit: Seconds = None,
    seed: Seed = 0,
    frontier: Annotated[
        bool,
        typer.Option(
            help="Show boards against waiting, plan by plan, for `plan --waiting-choice`; several times the work of one"
            " plan."
        ),
    ] = True,
    marked: Marked = None,
    json: Annotated[bool, typer.Option("--json", help="Print the comparison as JSON.")] = False,
) -> None:
    """Compare staging by level, carried, and as a whole, and boards against waiting.

    One judged plan for each: boards with the proved bound, cost, pieces that wait and in how many remainders, the
    most board that stands on site at a time, and deliveries. Then the frontier: plans from 'nothing waits' to the
    fewest boards, each with its bounds, to choose one from.
    """
    from contextlib import nullcontext
    from json import dumps

    from optimiser.writing.all_files import files_of_stagings
    from optimiser.writing.office.frontier_csv import point_as_dict
    from optimiser.writing.office.stagings_csv import option_as_dict
    from optimiser.writing.terminal.console import DECIDES, terminal
    from optimiser.writing.terminal.frontier_table import FRONTIER_NOTE, fewest_in_words, frontier_table
    from optimiser.writing.terminal.staging_table import STORAGE_NOTE, stagings_table
    from optimiser.writing.terminal.summary import progress_bar
    from optimiser.writing.whole_folder import all_or_nothing

    surveyed = read_or_mark(project, marked)
    with all_or_nothing(out) if out else nullcontext() as unfinished:
        from optimiser.studies import staging

        with progress_bar() as progress:
            found = staging.stagings(
                surveyed, time_limit=time_limit, seed=seed, progress=progress, frontier=frontier
            )
        if unfinished is not None:
            for name, text in files_of_stagings(found).items():
                (unfinished / name).write_text(text, encoding="utf-8", newline="")
    currency = surveyed.project.currency
    warnings = list(dict.fromkeys(warning for made in found.plans for warning in made.warnings))
    if json:
        document = {
            "currency": currency,
            "stagings": [option_as_dict(option) for option in found.options],
            "frontier": [point_as_dict(point) for point in found.frontier],
            "note": STORAGE_NOTE,
            "warnings": warnings,
            "cautions": list(found.plans[0].cautions),
        }
        typer.echo((dumps(document, indent=1, ensure_ascii=False) + "\n").encode(), nl=False)
        return
    console = terminal()
    console.print(stagings_table(found.options, currency))
    console.print(STORAGE_NOTE)
    if found.frontier:
        console.print()
        console.print(frontier_table(found.frontier, currency))
        console.print(fewest_in_words(found.frontier))
        console.print(FRONTIER_NOTE)
    for warning in warnings:
        console.print(f"- {warning}")
    console.print(DECIDES)
