"""`barrier-orders check`: the independent judge, on a plan or a cutting result from anywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import Marked, read_or_mark


def check(
    judged: Annotated[
        Path,
        typer.Argument(
            metavar="PLAN_OR_RESULT", help="A plan.json or a cutting result; '-' reads it from stdin."
        ),
    ],
    against: Annotated[
        Path | None,
        typer.Option(
            metavar="PROJECT_OR_PROBLEM",
            help="What it was made for: the project of a plan, the problem of a cutting result.",
        ),
    ] = None,
    marked: Marked = None,
) -> None:
    """Judge a plan or a cutting result.

    Prints each broken rule on a line and leaves with 1, or says that none is broken and leaves with 0.
    """
    from optimiser.checking import broken_rules_of_plan, broken_rules_of_result
    from optimiser.model.plan import Plan
    from optimiser.reading import read_cutting_problem, read_plan

    if str(judged) == str(against) == "-":
        raise typer.BadParameter("stdin can only be one of the two", param_hint="--against")
    found = read_plan(judged)
    if isinstance(found, Plan):
        broken = broken_rules_of_plan(found, read_or_mark(against, marked) if against else None)
    else:
        broken = broken_rules_of_result(found, read_cutting_problem(against) if against else None)
    for rule in broken:
        typer.echo(rule)
    if broken:
        raise typer.Exit(1)
    what = "plan" if isinstance(found, Plan) else "cutting result"
    typer.echo(f"no rule is broken by this {what}{'' if against else ' (checked on its own)'}")
