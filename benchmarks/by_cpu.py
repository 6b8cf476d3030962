"""Limits of the solver counted in CPU seconds, so that other work on the machine takes nothing from them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from time import process_time
from unittest.mock import patch

from optimiser.cutting import clock


@contextmanager
def limits_by_cpu() -> Iterator[None]:
    """Inside, a limit of a second is a second of this process. On a machine that is idle it is the same."""
    with patch.object(clock, "perf_counter", process_time):
        yield
