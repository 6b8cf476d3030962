"""`barrier-orders serve`: the service's API and pages, found by name: the core never imports it."""

from __future__ import annotations

from typing import Annotated

import typer

from optimiser.commands.service_entry import service_entry


def serve(
    host: Annotated[str, typer.Option(metavar="H", help="The address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(metavar="N", min=0, max=65535, help="The port.")] = 8000,
) -> None:
    """Serve the API and the pages.

    DATABASE_URL names the database (SQLite when not given).
    """
    service_entry("serve")(host=host, port=port)
