"""`barrier-orders retention`: buildings whose retention has ended."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def retention(
    years: Annotated[
        int,
        typer.Option(
            min=1,
            max=100,
            metavar="N",
            help="How long issued orders must be kept where you are: your law and your contracts decide.",
        ),
    ] = 10,
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Do it; without it only what would be deleted is shown.")
    ] = False,
) -> None:
    """Delete buildings of which nothing was changed, told or issued for N years, with their issued orders.

    Their numbers are never given again, and verifying does not miss them. DATABASE_URL names the database.
    """
    for line in service_entry("retention")(years, confirm):
        typer.echo(line)
