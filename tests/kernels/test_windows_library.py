"""The kernels' libraries for Windows return, bit by bit, what those of this machine do."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.solve import solve
from optimiser.kernels.building import zig
from optimiser.kernels.loading import compiled_library
from optimiser.planning.plan import plan
from optimiser.reading import read_project
from optimiser.simulation.simulate import simulate
from tests.builders.sample_plans import SAMPLES
from tests.kernels.windows import build, record, repeat, wine

KERNELS = {
    "price_strips",
    "price_boards",
    "price_offcuts",
    "form_strips",
    "fill_boards",
    "lay_out_runs",
    "count_accessories",
    "count_boards",
    "rearrange",
    "least_priced_layouts",
}


@pytest.mark.timeout(900)  # five libraries are compiled for it, and the runner sets up its home
def test_the_library_for_windows_counts_as_this_machines_does(tmp_path: Path) -> None:
    runner = wine()
    if runner is None:
        pytest.skip("no wine here: apt-get install wine64 brings it")
    if zig() is None:
        pytest.skip("no compiler for Windows here: make .venv/.wheels-ready brings it")
    if compiled_library("cutting") is None:
        pytest.skip("no library of this machine's own to compare with")
    with record() as calls:
        project = read_project(SAMPLES / "small" / "small.json")
        plan(project)
        simulate(project, draws=3, seed=1)
        solve(_with_a_rack())
    kernels = list({call.kernel.name: call.kernel for call in calls}.values())
    assert {kernel.name for kernel in kernels} == KERNELS
    found = repeat(build(kernels, tmp_path), kernels, calls, runner)
    for call, (result, after) in zip(calls, found, strict=True):
        assert (result, after) == (call.result, call.after), call.kernel.name


def _with_a_rack() -> CuttingProblem:
    """Three widths in two deliveries, and offcuts of two sizes."""
    pieces = [
        {
            "id": f"P{width}",
            "length_mm": 600,
            "width_min_mm": width,
            "width_max_mm": width + 7,
            "quantity": 9,
            "stage": stage,
        }
        for width, stage in ((165, 1), (142, 1), (208, 2))
    ]
    offcuts = [
        {"id": f"F{width}", "length_mm": 900, "width_mm": width, "quantity": 2, "stage": 1}
        for width in (250, 420)
    ]
    board = {"length_mm": 1200, "width_mm": 1000, "kerf_mm": 3}
    return CuttingProblem.model_validate({"board": board, "pieces": pieces, "offcuts": offcuts})
