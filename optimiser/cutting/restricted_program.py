"""The integer program over the columns that were found, for whole boards where few are left to place."""

from __future__ import annotations

from math import floor

import highspy
import numpy as np

from optimiser.cutting.columns import ColumnPlan, complete
from optimiser.cutting.generation import NEARLY, ColumnGeneration
from optimiser.cutting.master import CascadeColumn, work_of
from optimiser.cutting.quiet_highs import QuietHighs

MOST_INTEGER_COLUMNS = 1_000
INTEGER_WORK = 20  # an iteration in an integer program, with what goes on around it, in those of a linear one
MOST_NODE_COLUMNS = 60_000  # nodes x columns of an integer program, so that its time is bounded


def restricted_program(generation: ColumnGeneration, best: ColumnPlan, nodes: int) -> ColumnPlan:
    """A plan better than `best` over the columns found (above their fixed lower bounds), by HiGHS; `best` when it
    finds none in `nodes` nodes.

    Columns whose reduced cost exceeds the room between the linear value and the target cannot be in such a plan.
    """
    master = generation.master
    target = best.cost - 1
    value = master.solve()
    if value == float("inf") or generation.rounded_up_bound(value) > target:
        return best
    solution = master.solver.getSolution()
    reduced = np.array(solution.col_dual)
    lp = master.solver.getLp()
    lower = np.array(lp.col_lower_)
    keep = np.flatnonzero((reduced <= target - value + NEARLY) | (lower > 0))
    if len(keep) > MOST_INTEGER_COLUMNS:
        keep = np.sort(keep[np.argsort(reduced[keep] - lower[keep], kind="stable")[:MOST_INTEGER_COLUMNS]])
    model = QuietHighs()
    for option, setting in (
        ("mip_max_nodes", min(nodes, MOST_NODE_COLUMNS // max(1, len(keep)))),
        ("time_limit", max(0.01, master.seconds_left()) if master.seconds_left else highspy.kHighsInf),
        ("mip_rel_gap", 0.0),
        ("objective_bound", target + 0.5),
        ("objective_target", target + 0.5),
    ):
        model.setOptionValue(option, setting)
    starts: list[int] = []
    rows: list[int] = []
    entries: list[float] = []
    for k in keep.tolist():
        starts.append(len(rows))
        column = master.entries(master.columns[k])
        rows += column.keys()
        entries += column.values()
    count = len(keep)
    empty = (np.zeros(master.rows, np.int32), np.zeros(0, np.int32), np.zeros(0))
    model.addRows(master.rows, np.array(lp.row_lower_), np.array(lp.row_upper_), 0, *empty)
    model.addCols(
        count,
        np.array([master.costs[k] for k in keep.tolist()], dtype=np.float64),
        lower[keep],
        np.full(count, highspy.kHighsInf),
        len(rows),
        np.array(starts, dtype=np.int32),
        np.array(rows, dtype=np.int32),
        np.array(entries, dtype=np.float64),
    )
    integer = np.full(count, int(highspy.HighsVarType.kInteger), np.uint8)
    model.changeColsIntegrality(count, np.arange(count, dtype=np.int32), integer)
    model.run_or_raise()
    master.work += INTEGER_WORK * work_of(model, count, master.rows)
    if model.getInfo().primal_solution_status != 2:
        return best
    values = model.getSolution().col_value
    chosen = [
        (master.columns[k], floor(values[position] + 0.5))
        for position, k in enumerate(keep.tolist())
        if not isinstance(master.columns[k], CascadeColumn)
    ]
    plan = complete(generation.demand, chosen, worths=generation.worths)
    return plan if plan.cost < best.cost else best
