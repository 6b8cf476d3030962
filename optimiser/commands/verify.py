"""`barrier-orders verify`: whether every issued order is what was issued."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def verify(
    acknowledge: Annotated[
        str | None,
        typer.Option(
            metavar="WHO",
            help="Your name: you have looked at what is found, and orders may be issued again. It is recorded.",
        ),
    ] = None,
) -> None:
    """Verify every issued order of the service's database against its hashes and its anchor.

    Prints each finding on a line and leaves with 1, or says that none is left and leaves with 0.
    """
    if acknowledge is not None and not acknowledge.strip():
        raise typer.BadParameter("give a name", param_hint="--acknowledge")
    lines, clean = service_entry("verify")(acknowledge=acknowledge and acknowledge.strip())
    for line in lines:
        typer.echo(line)
    if not clean:
        raise typer.Exit(1)
