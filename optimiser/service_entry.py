"""Finds the service's entry points by name, so that the core never imports the service."""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from typing import Any

GROUP = "barrier_orders.service"


def service_entry(name: str) -> Callable[..., Any]:
    """The service's function of this name. Raises CannotBeDone when the service is not installed."""
    from optimiser.reading.problems import CannotBeDone

    missing = CannotBeDone(
        [f"the service's '{name}' is not installed here; run `make run` in its folder first"]
    )
    found = entry_points(group=GROUP, name=name)
    if not found:
        raise missing
    (entry, *_) = found
    try:
        function: Callable[..., Any] = entry.load()
    except ModuleNotFoundError as error:
        if error.name and entry.module.startswith(error.name):
            raise missing from error
        raise
    return function
