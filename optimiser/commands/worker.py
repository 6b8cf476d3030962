"""`barrier-orders worker`: a process that plans for the service."""

from __future__ import annotations

from optimiser.commands.service_entry import service_entry


def worker() -> None:
    """Plan in the background for the service.

    DATABASE_URL names the database that it shares with the service.
    """
    service_entry("worker")()
