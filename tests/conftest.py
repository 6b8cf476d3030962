"""Which tests are slow: `make check` leaves them out, `make test` runs all."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.builders.short_searches import short_searches

HERE = Path(__file__).parent
SLOW_FOLDERS = ("service", "pages", "benchmarks", "kernels")
SLOW_FILES = (
    "test_tutorial.py",
    "commands/test_after_planning.py",
    "commands/test_estimating.py",
    "commands/test_main.py",
    "commands/test_survey.py",
    "cutting/test_waiting.py",
    "planning/test_edges.py",
    "planning/test_crew.py",
    "planning/test_story_of_a_tower.py",
    "ordering/test_deliveries.py",
    "ordering/test_delivery_costs.py",
    "simulation/test_simulate.py",
    "studies/test_staging.py",
)


@pytest.fixture(scope="module")
def searched_briefly() -> Iterator[None]:
    """All plans of a file are made with short searches: it asks what holds of every plan, not how good one is."""
    with short_searches():
        yield


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Files that are slow as a whole are not even imported where only the others are asked for."""
    if config.option.markexpr == "not slow" and _is_slow(collection_path):
        return True
    return None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whole folders, files that run commands or plan the tower, and every property test are slow."""
    for item in items:
        drawn = getattr(getattr(item, "function", None), "is_hypothesis_test", False)
        if drawn or _is_slow(item.path):
            item.add_marker(pytest.mark.slow)


def pytest_collection_finish() -> None:
    """What is imported and collected lives as long as the run: the collector of garbage need not look through it again,
    nor as often, which took a sixth of the processor's time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(5_000, 20, 20)


def _is_slow(path: Path) -> bool:
    """Whether a file, or a folder, is slow as a whole."""
    if not path.is_relative_to(HERE) or path == HERE:
        return False
    place = path.relative_to(HERE)
    return place.parts[0] in SLOW_FOLDERS or place.as_posix() in SLOW_FILES
