"""Options that several commands share, each with its check."""

from __future__ import annotations

from math import isfinite
from typing import Annotated

import typer


def _positive(seconds: float | None) -> float | None:
    if seconds is not None and not (isfinite(seconds) and seconds > 0):
        raise typer.BadParameter("give a number of seconds above 0, such as 10 or 0.5")
    return seconds


Seconds = Annotated[
    float | None,
    typer.Option(
        "--time-limit", metavar="S", callback=_positive, help="Stop improving the cutting after S seconds."
    ),
]
Seed = Annotated[
    int,
    typer.Option(metavar="N", min=0, max=2**31 - 1, help="Equal seeds give equal plans."),
]
