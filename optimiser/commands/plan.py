"""`barrier-orders plan`: a building's survey in, a checked supplier order out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from optimiser.command_options import Seconds, Seed


def plan(
    project: Annotated[
        Path, typer.Argument(metavar="PROJECT", help="A workbook (.xlsx), a folder of .csv, or a .json.")
    ],
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the files go; 'out' when not given.")
    ] = None,
    staging: Annotated[
        Literal["whole", "carry", "level"],
        typer.Option(
            help="Where an offcut may serve: any later level (whole), the next deliveries (carry:"
            " the project's max_carry_stages, 1 when not given), or its own level only (level)."
        ),
    ] = "whole",
    time_limit: Seconds = None,
    seed: Seed = 0,
    json: Annotated[
        bool, typer.Option("--json", help="Print plan.json, and write files only with --out.")
    ] = False,
) -> None:
    """Plan a project: a survey in, a checked supplier order out.

    Lays out the pieces, cuts them, counts brackets and tape, orders by level, and lets an independent judge
    check it all. Writes plan.json, order.xlsx, order.csv, cutting-sheets.pdf, order.ubl.xml, deliveries.ics and
    levels.svg.
    """
    from contextlib import nullcontext

    from optimiser.reading import read_project
    from optimiser.writing.all_files import all_or_nothing, write_all
    from optimiser.writing.plan_json import plan_json
    from optimiser.writing.terminal import progress_bar, show_plan

    surveyed = read_project(project)
    folder = out or (None if json else Path("out"))
    with all_or_nothing(folder) if folder else nullcontext() as unfinished:
        from optimiser import planning

        with progress_bar() as progress:
            made = planning.plan(
                surveyed, staging=staging, time_limit=time_limit, seed=seed, progress=progress
            )
        if unfinished is not None:
            write_all(made, unfinished)
    if json:
        typer.echo(plan_json(made).encode(), nl=False)  # UTF-8 whatever the terminal's encoding
    else:
        show_plan(made, folder)
