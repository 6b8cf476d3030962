"""`barrier-orders allowance`: how much to order, computed from the tolerances of nominal gaps."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from optimiser.commands.options import Marked, ProjectFile, Seed, read_or_mark


def allowance(
    project: ProjectFile,
    draws: Annotated[int, typer.Option(metavar="N", help="Possible surveys to draw.")] = 500,
    seed: Seed = 0,
    service_level: Annotated[
        float | None,
        typer.Option(
            metavar="P",
            help="Share of the draws that the order must cover in all products at once; the project's"
            " service_level when not given.",
        ),
    ] = None,
    shortage_cost: Annotated[
        float | None,
        typer.Option(metavar="COST", help="Of one missing; with --surplus-cost it sets the service level."),
    ] = None,
    surplus_cost: Annotated[float | None, typer.Option(metavar="COST", help="Of one left over.")] = None,
    staging: Annotated[
        Literal["whole", "carry", "level"],
        typer.Option(help="Where an offcut of a measured level may serve, as in plan."),
    ] = "whole",
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where allowance.json and .svg go; 'out' when not given."),
    ] = None,
    marked: Marked = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print allowance.json; write files only with --out.")
    ] = False,
) -> None:
    """Simulate tolerances: how much to order, and how sure.

    Draws the nominal gaps within their tolerances, correlated along each run, lays out and cuts every draw, and gives
    the quantities that cover a share of the draws in all products at once, at least cost.
    Writes allowance.json and allowance.svg.
    """
    from contextlib import nullcontext

    from optimiser.writing.data.plan_json import rows_on_lines
    from optimiser.writing.terminal.counting_bar import counting_bar
    from optimiser.writing.whole_folder import all_or_nothing

    surveyed = read_or_mark(project, marked)
    folder = out or (None if json else Path("out"))
    with all_or_nothing(folder) if folder else nullcontext() as unfinished:
        from optimiser.simulation.simulate import simulate

        with counting_bar("drawing surveys") as progress:
            found = simulate(
                surveyed,
                draws=draws,
                seed=seed,
                service_level=service_level,
                shortage_cost=shortage_cost,
                surplus_cost=surplus_cost,
                staging=staging,
                progress=progress,
            )
        name = surveyed.project.name
        text = rows_on_lines(found.as_json()) + "\n"
        if unfinished is not None:
            from optimiser.writing.office.allowance_chart import allowance_svg

            (unfinished / "allowance.svg").write_text(allowance_svg(found, name), encoding="utf-8")
            (unfinished / "allowance.json").write_text(text, encoding="utf-8")
    if json:
        typer.echo(text.encode(), nl=False)  # UTF-8 whatever the terminal's encoding
    else:
        from optimiser.writing.terminal.allowance_table import show_allowance

        written = [folder / file for file in ("allowance.json", "allowance.svg")] if folder else []
        show_allowance(found, name, written)
