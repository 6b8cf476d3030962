"""`python -m benchmarks.kernels`: what the compiled kernels save over their readable references.

First each kernel, on the calls that a plan of the sample tower and a solve of an invented facade make. Then whole
solves of invented facades, all compiled against column pricing (both knapsacks) by the reference in numpy: the plans
are equal, or the benchmark fails. User CPU seconds, the least of three runs, and their ratio.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, ExitStack
from copy import deepcopy
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from benchmarks.instances.facade import facade
from benchmarks.report import machine
from optimiser.cutting import rearranging
from optimiser.cutting import solve as solving
from optimiser.cutting.problem import CuttingResult
from optimiser.joints import arrays as joints_arrays
from optimiser.kernels import bindings, loading
from optimiser.model.project import Project
from optimiser.reading import read_project
from optimiser.simulation import quick_cutting
from optimiser.simulation.counts import Counting
from optimiser.takeoff import arrays as takeoff_arrays

TOWER = Path(__file__).resolve().parent.parent / "sample_orders" / "tower" / "tower.json"
OF_CUTTING = ("price_strips", "price_boards", "form_strips", "fill_boards", "rearrange")
OF_BUILDINGS = ("lay_out_runs", "count_accessories", "count_boards")
FACADES = (("S", 1), ("M", 1), ("M", 2), ("XL", 1))
MOST_CALLS = 40
RUNS = 3

# the modules that call the bindings by name
USERS = (bindings, rearranging, joints_arrays, takeoff_arrays, quick_cutting)

Call = tuple[Any, ...]


def main() -> int:
    """Prints the tables; exit status 1 when a result differs between the two."""
    print(machine())
    print("\n| kernel | calls | compiled s | reference s | times |\n| --- | ---: | ---: | ---: | ---: |")
    tower = read_project(TOWER)
    calls = _calls(lambda: solving.solve(facade("M", 1)), OF_CUTTING)
    calls |= _calls(lambda: _counted(tower), OF_BUILDINGS)
    for name, made in calls.items():
        compiled = _seconds(lambda name=name, made=made: _replayed(name, made), RUNS)
        with _reference():
            reference = _seconds(lambda name=name, made=made: _replayed(name, made), 1)
        print(f"| {name} | {len(made)} | {compiled:.4f} | {reference:.3f} | {reference / compiled:.0f} |")
    print("\n| facade | boards | compiled s | numpy pricing s | times |\n| --- | ---: | ---: | ---: | ---: |")
    equal = True
    for size, seed in FACADES:
        problem, results = facade(size, seed), []
        compiled = _seconds(lambda problem=problem, into=results: into.append(solving.solve(problem)), RUNS)
        with mock.patch("optimiser.cutting.kernels.bindings", _NumpyPricing()):
            by_numpy = _seconds(
                lambda problem=problem, into=results: into.append(solving.solve(problem)), RUNS
            )
        equal &= len({_without_clock(result) for result in results}) == 1
        print(
            f"| {size}-{seed:02d} | {results[0].boards} | {compiled:.2f} | {by_numpy:.2f} | {by_numpy / compiled:.2f} |"
        )
    return 0 if equal else 1


class _NumpyPricing:
    """The bindings, with both knapsacks by their reference."""

    def __getattr__(self, name: str) -> Any:
        function = getattr(bindings, name)
        if name not in ("price_strips", "price_boards"):
            return function

        def by_reference(*arguments: Any) -> Any:
            with _reference():
                return function(*arguments)

        return by_reference


def _reference() -> AbstractContextManager[Any]:
    return mock.patch.object(loading, "compiled_library", return_value=None)


def _counted(tower: Project) -> None:
    counting = Counting.of(tower, "whole")
    counting.count(counting.process.gaps([np.random.SeedSequence(1)])[0])


def _calls(work: Callable[[], object], names: Sequence[str]) -> dict[str, list[Call]]:
    """The first calls of each kernel that some work makes, with copies of their arrays."""
    calls: dict[str, list[Call]] = {name: [] for name in names}

    def recorded(name: str) -> Callable[..., Any]:
        function = getattr(bindings, name)

        def call(*arguments: Any) -> Any:
            if len(calls[name]) < MOST_CALLS:
                calls[name].append(deepcopy(arguments))
            return function(*arguments)

        return call

    with ExitStack() as patched:
        for name in names:
            for module in USERS:
                if hasattr(module, name):
                    patched.enter_context(mock.patch.object(module, name, recorded(name)))
        work()
    return calls


def _replayed(name: str, calls: list[Call]) -> None:
    for arguments in deepcopy(calls):
        getattr(bindings, name)(*arguments)


def _without_clock(result: CuttingResult) -> str:
    return result.model_copy(update={"solve_seconds": 0.0}).model_dump_json()


def _seconds(work: Callable[[], object], runs: int) -> float:
    """User CPU seconds, the least of some runs."""
    taken = []
    for _ in range(runs):
        started = time.process_time()
        work()
        taken.append(time.process_time() - started)
    return min(taken)


if __name__ == "__main__":
    sys.exit(main())
