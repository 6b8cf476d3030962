"""`barrier-orders backup`: everything that the service keeps, in one file, while it runs."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The new file that it is written to.")],
) -> None:
    """Back up all that the service keeps: database, documents, photographs and the anchor of the issued orders.

    The service may run meanwhile. DATABASE_URL names the database.
    """
    for line in service_entry("backup")(file):
        typer.echo(line)
