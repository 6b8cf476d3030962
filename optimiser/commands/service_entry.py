"""Finds the service's entry points by name, so that the core never imports the service."""

from __future__ import annotations

import sys
from collections.abc import Callable
from importlib.metadata import entry_points
from typing import Any

GROUP = "barrier_orders.service"


def service_entry(name: str) -> Callable[..., Any]:
    """The service's function of this name. It, or looking for it, raises CannotBeDone when the service is not
    installed, or the packages that it needs are not; and where the system is not Linux."""
    from optimiser.errors.problems import CannotBeDone

    if sys.platform != "linux":
        raise CannotBeDone(
            [
                f"'{name}' needs Linux: the service limits and ends the processes that read and plan by means that"
                " other systems lack. Planning, cutting, checking and writing run here; run the service on Linux"
            ]
        )
    missing = CannotBeDone(
        [
            f"the service's '{name}' is not installed here; install `barrier-orders[service]`, or run `make run` in"
            " the sources"
        ]
    )
    found = entry_points(group=GROUP, name=name)
    if not found:
        raise missing
    (entry, *_) = found

    def called(*positional: Any, **named: Any) -> Any:
        try:
            return entry.load()(*positional, **named)
        except ModuleNotFoundError as error:  # of the service's own packages, none of ours
            if (error.name or "").partition(".")[0] in ("", "optimiser"):
                raise
            raise missing from error

    return called
