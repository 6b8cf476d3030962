"""`barrier-orders scenarios`: any options side by side, a judged plan for each."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import Marked, ProjectFile, Seconds, day_given, read_or_mark


def scenarios(
    project: ProjectFile,
    compared: Annotated[
        Path,
        typer.Option(
            "--scenarios",
            metavar="FILE",
            help="A .csv with a row a scenario and a column an option (name, gap_mm, oversize_max, boards, staging,"
            " truck_pallets ...), or a .json with a list of objects. What is left out is as the project has it.",
        ),
    ],
    offers: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="FILE",
            help="What suppliers offer, for scenarios that name one under supplier: UBL 2.1 or .csv; repeat it.",
        ),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option(metavar="DAY", help="The day on which offered prices must hold; today when not given."),
    ] = None,
    draws: Annotated[
        int,
        typer.Option(metavar="N", min=1, max=20_000, help="Surveys to draw for scenarios with precut."),
    ] = 500,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    time_limit: Seconds = None,
    marked: Marked = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print the comparison as JSON; write files only with --out.")
    ] = False,
) -> None:
    """Compare any options side by side, a judged plan for each.

    Each scenario gives what is to differ: gaps, rules, boards and brackets on offer, prices, limits of trucks and site,
    staging, how it is planned. Writes scenarios.csv, scenarios.xlsx, and charts of scrap against the gap and of cost
    against waiting and against deliveries.
    """
    from contextlib import nullcontext
    from datetime import date

    from optimiser.reading import read_offers
    from optimiser.reading.scenario_rows import read_scenarios
    from optimiser.writing.all_files import files_of_scenarios
    from optimiser.writing.terminal.counting_bar import counting_bar
    from optimiser.writing.terminal.scenario_table import show_scenarios
    from optimiser.writing.whole_folder import all_or_nothing

    surveyed = read_or_mark(project, marked)
    wanted = read_scenarios(compared)
    offered = [offer for path in offers or () for offer in read_offers(path)]
    folder = out or (None if json else Path("out"))
    written: list[Path] = []
    with all_or_nothing(folder) if folder else nullcontext() as unfinished:
        from optimiser.studies import scenarios as study

        with counting_bar("planning scenarios") as progress:
            found = study.scenarios(
                surveyed,
                wanted,
                offers=offered,
                on=day_given(on, "--on") or date.today(),
                draws=draws,
                time_limit=time_limit,
                progress=progress,
            )
        if unfinished is not None and folder is not None:
            for name, content in files_of_scenarios(found, surveyed.project.name).items():
                (unfinished / name).write_bytes(content)
                written.append(folder / name)
    if json:
        typer.echo(found.model_dump_json(indent=1).encode())
    else:
        show_scenarios(found, written)
