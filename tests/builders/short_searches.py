"""Planning with short searches: for tests that need a plan that keeps every rule, not the best one.

Most of the time of a plan goes into seeking a board less, or less waiting, than a good plan has, and, where gaps are
nominal, into drawing possible surveys. What is asked of every plan, whatever it costs, is asked as well of one that was
sought briefly: each search runs, a small part of its usual steps long, by counts and no clock, so that equal input and
seed still give equal plans; few surveys are drawn. `tests/cutting/` and the benchmarks search as long as usual.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from types import ModuleType
from unittest import mock

from optimiser.cutting import exact, integer, packing, second_aim, waiting
from optimiser.cutting.demand import Demand
from optimiser.planning import allowances

PART = 20  # of the usual steps: one in so many
FEW_DRAWS = 20


def _briefly_within(demand: Demand, cost: int, effort: float, seconds: float | None) -> exact.Answer:
    return exact.fits_within(demand, cost, effort / PART, seconds)


SHORTENED: tuple[tuple[ModuleType, str, object], ...] = (
    (packing, "STEPS_A_PIECE", packing.STEPS_A_PIECE // PART),
    (packing, "MOST_STEPS", packing.MOST_STEPS // PART),
    (waiting, "BOARD_STEPS", waiting.BOARD_STEPS // PART),
    (waiting, "MOST_BOARD_STEPS", waiting.MOST_BOARD_STEPS // PART),
    (waiting, "STRIP_STEPS_A_PIECE", waiting.STRIP_STEPS_A_PIECE // PART),
    (waiting, "MOST_STRIP_STEPS", waiting.MOST_STRIP_STEPS // PART),
    (second_aim, "EXACT_EFFORT", second_aim.EXACT_EFFORT / PART),
    (integer, "STRIP_EFFORT", integer.STRIP_EFFORT / PART),
    (integer, "fits_within", _briefly_within),
    (allowances, "DRAWS", FEW_DRAWS),
)


@contextmanager
def short_searches() -> Iterator[None]:
    """What is planned within seeks better plans for a small part of the usual steps, and draws few surveys."""
    with ExitStack() as stack:
        for module, name, short in SHORTENED:
            stack.enter_context(mock.patch.object(module, name, short))
        yield
