"""`barrier-orders help`: what a command does, as help or as a page of the manual."""

from __future__ import annotations

from typing import Annotated

import typer


def help(
    command: Annotated[
        str | None, typer.Argument(metavar="COMMAND", help="A command's name; all of them when not given.")
    ] = None,
    man: Annotated[
        bool, typer.Option("--man", help="Print the page of the manual, for `man -l -` or a file.")
    ] = False,
) -> None:
    """Say what a command does: the words of its --help, or its page of the manual.

    The wheels install the pages too, so that `man barrier-orders-plan` finds them where the manual is searched.
    """
    from optimiser.commands.main import COMMANDS, app
    from optimiser.commands.manual import NAME, manual_pages

    if command is not None and command not in COMMANDS:
        raise typer.BadParameter(
            f"there is no command {command}; there is {', '.join(COMMANDS)}", param_hint="COMMAND"
        )
    if man:
        page = f"{NAME}.1" if command is None else f"{NAME}-{command}.1"
        typer.echo(manual_pages()[page], nl=False)
        return
    app(args=[*([command] if command else []), "--help"], prog_name=NAME)
