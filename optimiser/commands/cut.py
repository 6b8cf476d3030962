"""`barrier-orders cut`: a bare cutting problem in, its result on stdout."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.options import Seconds, Seed


def cut(
    problem: Annotated[
        Path, typer.Argument(metavar="PROBLEM", help="A cutting problem (.json); '-' reads it from stdin.")
    ],
    time_limit: Seconds = None,
    seed: Seed = 0,
) -> None:
    """Solve a bare cutting problem; prints the result.

    The fewest boards, or the least cost of several sizes, with a proved lower bound, as JSON.
    """
    from optimiser.checking import broken_rules_of_result
    from optimiser.cutting.solve import solve
    from optimiser.errors.broken_rules import BreaksRules
    from optimiser.reading import read_cutting_problem

    wanted = read_cutting_problem(problem)
    result = solve(wanted, time_limit=time_limit, seed=seed)
    if broken := broken_rules_of_result(result, wanted):
        raise BreaksRules(broken)
    from optimiser.writing.data.plan_json import result_json

    typer.echo(result_json(result).encode(), nl=False)  # UTF-8 whatever the terminal's encoding
