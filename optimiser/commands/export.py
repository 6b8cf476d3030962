"""`barrier-orders export`: everything that the service keeps of a company, for it to take away."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def export(
    company: Annotated[str, typer.Argument(metavar="COMPANY", help="The company's name.")],
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The new file (a zip) that it is written to.")],
) -> None:
    """Export all that the service keeps of a company: surveys, plans, orders, record, photographs, who did what.

    The service may run meanwhile. DATABASE_URL names the database. Keys' secrets are left out.
    """
    for line in service_entry("export")(company, file):
        typer.echo(line)
