"""`barrier-orders stagings`: what each way of staging the deliveries costs, side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.command_options import ProjectFile, Seconds, Seed


def stagings(
    project: ProjectFile,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Also write stagings.csv and levels-MODE.svg there.")
    ] = None,
    time_limit: Seconds = None,
    seed: Seed = 0,
    json: Annotated[bool, typer.Option("--json", help="Print the comparison as JSON.")] = False,
) -> None:
    """Compare staging by level, carried, and as a whole.

    One judged plan for each: boards with the proved bound, cost, pieces carried, the most board that stands
    on site at a time, and deliveries.
    """
    from contextlib import nullcontext
    from json import dumps

    from optimiser.reading import read_project
    from optimiser.writing.all_files import all_or_nothing
    from optimiser.writing.console import DECIDES, terminal
    from optimiser.writing.staging_table import STORAGE_NOTE, option_as_dict, stagings_csv, stagings_table
    from optimiser.writing.terminal import progress_bar

    surveyed = read_project(project)
    with all_or_nothing(out) if out else nullcontext() as unfinished:
        from optimiser.staging import compare_stagings

        with progress_bar() as progress:
            found = compare_stagings(surveyed, time_limit=time_limit, seed=seed, progress=progress)
        options = [option for option, _ in found]
        if unfinished is not None:
            from optimiser.writing.level_chart import level_chart_svg

            (unfinished / "stagings.csv").write_text(stagings_csv(options), encoding="utf-8", newline="")
            for option, made in found:
                chart = level_chart_svg(made)
                (unfinished / f"levels-{option.staging}.svg").write_text(chart, encoding="utf-8")
    currency = surveyed.project.currency
    warnings = list(dict.fromkeys(warning for _, made in found for warning in made.warnings))
    if json:
        document = {
            "currency": currency,
            "stagings": [option_as_dict(option) for option in options],
            "note": STORAGE_NOTE,
            "warnings": warnings,
            "cautions": list(found[0][1].cautions),
        }
        typer.echo((dumps(document, indent=1, ensure_ascii=False) + "\n").encode(), nl=False)
        return
    console = terminal()
    console.print(stagings_table(options, currency))
    console.print(STORAGE_NOTE)
    for warning in warnings:
        console.print(f"- {warning}")
    console.print(DECIDES)
