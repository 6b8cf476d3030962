"""The joint layout of every run at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimiser.kernels import loading
from optimiser.kernels.bindings.runs import RunTables, check_positions, gap_lines, parts
from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.patterns import Values
from optimiser.kernels.reference.gap_line import Rates
from optimiser.kernels.reference.joint_prices import PiecePrices
from optimiser.kernels.reference.run_to_lay_out import Board, Rules, Run
from optimiser.kernels.reference.runs import lay_out_run

ROW_WIDTH = 10  # of a laid row: run, kind, from, to, gap floor and ceil, width min and max, start, end


_NO_MEMORY = -1


LAY_OUT_RUNS = Kernel(
    "joints",
    "lay_out_runs",
    "int64_t",
    (
        Number("runs", "int64_t", 0),
        Array("length", "int64_t", "runs"),
        Array("knot_start", "int64_t", "runs + 1", least_part=1),
        Array("knot_at", "int64_t", "knot_start[-1]"),
        Array("knot_gap", "int64_t", "knot_start[-1]"),
        Array("mullion_start", "int64_t", "runs + 1", least_part=0),
        Array("mullion_at", "int64_t", "mullion_start[-1]"),
        Array("board_start", "int64_t", "runs + 1", least_part=1),
        Array("board_length", "int64_t", "board_start[-1]"),
        Array("board_width", "int64_t", "board_start[-1]"),
        Array("rules_given", "int64_t", "11"),
        Array("value_cost", "int64_t", "value_lengths * value_widths", optional=True),
        Number("value_lengths", "int64_t", 0),
        Number("value_widths", "int64_t", 0),
        Number("pieces_first", "int64_t", 0),
        Number("capacity", "int64_t", 0),
        Array("rows_out", "int64_t", "10 * capacity", written=True),
    ),
)


class LayoutRules(NamedTuple):
    """Rules of the detail as whole numbers: cut width over gap from `rate_min` to `rate_max` over `rate_unit`; the rest
    as in `reference.run_to_lay_out.Rules`. `every_millimetre` is slow and changes nothing: a check of the leaps."""

    rate_unit: int
    rate_min: int
    rate_max: int
    gap_min: int
    gap_max: int
    piece_min: int
    shortest: int
    clearance: int
    taper_step: int
    taper_max: int
    every_millimetre: bool = False


def lay_out_runs(
    runs: RunTables, rules: LayoutRules, cost: Values | None = None, pieces_first: bool = False
) -> Values:
    """`reference.runs.lay_out_run` of every run, in order of run and position: rows that tile every run.

    A row is ROW_WIDTH numbers: run, kind, from, to, gap rounded down and up, width min and max, width at start and
    end.

    `cost[length, width]`: see `reference.joint_prices`. Raises ValueError for what cannot be, MemoryError when there is
    no memory, RuntimeError for a fault of the kernel.
    """
    for name in ("length", "board_length", "board_width"):
        if (getattr(runs, name) < 1).any():
            raise ValueError(f"lay_out_runs: a number in {name} is below 1")
    least_of_all = min(rules.rate_unit, rules.piece_min, rules.shortest, rules.taper_step)
    if least_of_all < 1 or min(rules.clearance, rules.taper_max) < 0:
        raise ValueError(f"lay_out_runs: a rule is too small: {rules}")
    if cost is not None and (cost.ndim != 2 or cost.size == 0):
        raise ValueError("lay_out_runs: cost must be a table of lengths by widths")
    capacity = int(2 * (runs.length // 300).sum() + 4 * len(runs.knot_at) + 16)
    while True:
        rows = np.empty((capacity, ROW_WIDTH), dtype=np.int64)
        given = {
            "runs": len(runs.length),
            **runs._asdict(),
            "rules_given": np.array(rules, dtype=np.int64),
            "value_cost": cost,
            "value_lengths": 0 if cost is None else len(cost),
            "value_widths": 0 if cost is None else cost.shape[1],
            "pieces_first": int(pieces_first),
            "capacity": capacity,
            "rows_out": rows,
        }
        arguments = LAY_OUT_RUNS.checked(given)
        check_positions("lay_out_runs: knot_at", runs.knot_start, runs.knot_at, 1)
        check_positions("lay_out_runs: mullion_at", runs.mullion_start, runs.mullion_at, 0)
        library = loading.compiled_library("joints")
        if library is None:
            return lay_out_by_reference(runs, rules, cost, pieces_first)
        found = int(LAY_OUT_RUNS.function(library)(*arguments))
        if found == _NO_MEMORY:
            raise MemoryError("no memory for the joint layout")
        if found < 0:
            raise RuntimeError("the joint layout found no way to the end of a run: a fault of this tool")
        if found <= capacity:
            return rows[:found]
        capacity = found


def lay_out_by_reference(
    runs: RunTables, rules: LayoutRules, cost: Values | None, pieces_first: bool
) -> Values:
    """As `lay_out_runs`, by the reference in plain Python: every millimetre is visited."""
    detail = Rules(Rates(*rules[:3]), *rules[3:10])
    prices = None if cost is None else PiecePrices(cost.tolist(), pieces_first)
    gaps = gap_lines(runs.knot_start, runs.knot_at, runs.knot_gap)
    mullions = parts(runs.mullion_start, runs.mullion_at)
    sizes = zip(
        parts(runs.board_start, runs.board_length), parts(runs.board_start, runs.board_width), strict=True
    )
    rows = [
        (number, row.kind, row.from_mm, row.to_mm, *row.span, row.width_start, row.width_end)
        for number, (length, size) in enumerate(zip(runs.length.tolist(), sizes, strict=True))
        for row in lay_out_run(
            Run.of(length, gaps[number], mullions[number], [*map(Board, *size)], detail), prices
        )
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, ROW_WIDTH)
