"""`barrier-orders restore`: a backup into an empty place, verified."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that `backup` made.")],
) -> None:
    """Put a backup into the empty database that DATABASE_URL names, and verify every issued order.

    Prints what is found, such as orders that were issued after the backup was made, and leaves with 1 if anything is.
    """
    lines, clean = service_entry("restore")(file)
    for line in lines:
        typer.echo(line)
    if not clean:
        raise typer.Exit(1)
