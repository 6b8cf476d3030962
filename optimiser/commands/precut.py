"""`barrier-orders precut`: what cutting nominal levels ahead would scrap, beside cutting them on site."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.commands.options import Marked, ProjectFile, Seconds, Seed, read_or_mark


def precut(
    project: ProjectFile,
    draws: Annotated[
        int, typer.Option(metavar="N", min=1, max=20_000, help="How many surveys to draw.")
    ] = 500,
    seed: Seed = 0,
    time_limit: Seconds = None,
    marked: Marked = None,
    json: Annotated[bool, typer.Option("--json", help="Print the risks as JSON.")] = False,
) -> None:
    """Weigh pre-cutting against site cutting.

    For each level the share of pieces that would not fit if cut to the nominal gap now, and the boards that
    this would scrap; cut on site after measuring they scrap nothing. A plan itself cuts no piece before its
    delivery: what later levels need waits in remainders.
    """
    from json import dumps

    from optimiser.planning.plan import plan
    from optimiser.studies.precut import precut_risks
    from optimiser.writing.terminal.precut_table import risk_as_dict, show_precut
    from optimiser.writing.terminal.summary import progress_bar

    surveyed = read_or_mark(project, marked)
    with progress_bar() as progress:
        made = plan(surveyed, time_limit=time_limit, seed=seed, progress=progress)
    risks = precut_risks(made, draws=draws, seed=seed)
    if json:
        document = {
            "draws": draws,
            "seed": seed,
            "levels": [risk_as_dict(risk) for risk in risks],
            "cautions": list(made.cautions),
        }
        typer.echo((dumps(document, indent=1, ensure_ascii=False) + "\n").encode(), nl=False)
    else:
        show_precut(risks, draws, all(detail.trim for detail in surveyed.building.details_in_use.values()))
