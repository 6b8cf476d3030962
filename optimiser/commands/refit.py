"""`barrier-orders refit`: pieces that are cut already against a newer survey."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import Marked, Seconds, Seed, names_given, read_or_mark

Levels = Annotated[
    list[str] | None,
    typer.Option(metavar="LEVELS", help="Levels, separated by commas or spaces; may be given again."),
]


def refit(
    plan: Annotated[
        Path, typer.Argument(metavar="PLAN", help="The plan.json that was cut; '-' reads stdin.")
    ],
    survey: Annotated[
        Path,
        typer.Option(metavar="PROJECT", help="The newer survey: a workbook, a folder of .csv, or a .json."),
    ],
    cut_levels: Levels = None,
    fitted_levels: Levels = None,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Also write refit.json there.")] = None,
    time_limit: Seconds = None,
    seed: Seed = 0,
    marked: Marked = None,
    json: Annotated[bool, typer.Option("--json", help="Print the refit as JSON.")] = False,
) -> None:
    """Fit pieces that are cut to a newer survey.

    Re-uses the most pieces (proved), says where each goes, what must be re-cut from what, and the difference
    to order. Every piece of the plan counts as cut unless --cut-levels names fewer; pieces of --fitted-levels
    stay where they are.
    """
    from contextlib import nullcontext

    from optimiser.model.plan import Plan
    from optimiser.reading import CannotBeDone, read_plan
    from optimiser.replanning import refit as refitting
    from optimiser.writing.data.refit_json import refit_json
    from optimiser.writing.terminal.refit_report import refit_lines
    from optimiser.writing.whole_folder import all_or_nothing

    cut_before = read_plan(plan)
    if not isinstance(cut_before, Plan):
        raise CannotBeDone(
            [f"{plan} is a cutting result, not a plan; give the plan.json of barrier-orders plan"]
        )
    newer = read_or_mark(survey, marked)
    known = [level.level for level in cut_before.project.levels]
    with all_or_nothing(out) if out else nullcontext() as unfinished:
        made = refitting.refit(
            cut_before,
            newer,
            cut_levels=None if cut_levels is None else names_given(cut_levels, known),
            fitted_levels=names_given(fitted_levels or (), known),
            time_limit=time_limit,
            seed=seed,
        )
        if unfinished is not None:
            (unfinished / "refit.json").write_text(refit_json(made), encoding="utf-8")
    if json:
        typer.echo(refit_json(made).encode(), nl=False)
    else:
        for line in refit_lines(made):
            typer.echo(line)
