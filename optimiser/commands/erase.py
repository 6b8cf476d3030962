"""`barrier-orders erase`: a person's name in a company's data, or the company's data."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def erase(
    company: Annotated[str, typer.Argument(metavar="COMPANY", help="The company's name.")],
    person: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Replace this person's name alone, and end accounts and keys of that name."
        ),
    ] = None,
    confirm: Annotated[
        bool, typer.Option("--confirm", help="Do it; without it only what would be done is shown.")
    ] = False,
) -> None:
    """Erase a person's name from a company's data, or all of a company but its issued orders.

    What an issued order's hash covers stays as it was issued until its retention ends, and is told: its documents, the
    plan and the survey behind them. The chain of orders stays intact. DATABASE_URL names the database. Backups that
    were made before still hold what was erased.
    """
    if person is not None and not person.strip():
        raise typer.BadParameter("give a name", param_hint="--person")
    for line in service_entry("erase")(company, person and person.strip(), confirm):
        typer.echo(line)
