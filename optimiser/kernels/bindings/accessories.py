"""Brackets, anchors and tape of pieces that are laid out."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

import numpy as np

from optimiser.kernels import loading
from optimiser.kernels.bindings.runs import RunTables, gap_lines, parts
from optimiser.kernels.declaring import Array, Kernel, Number
from optimiser.kernels.patterns import Values
from optimiser.kernels.reference import brackets

COUNT_ACCESSORIES = Kernel(
    "draws",
    "count_accessories",
    "int64_t",
    (
        Number("pieces", "int64_t", 0),
        Array("rows", "int64_t", "10 * pieces"),
        Number("runs", "int64_t", 0, passed=False),
        Array("knot_start", "int64_t", "runs + 1", least_part=1),
        Array("knot_at", "int64_t", "knot_start[-1]"),
        Array("knot_gap", "int64_t", "knot_start[-1]"),
        Array("mullion_start", "int64_t", "runs + 1", least_part=0),
        Array("mullion_at", "int64_t", "mullion_start[-1]"),
        Array("rules", "int64_t", "9"),
        Number("sizes", "int64_t", 0),
        Array("reach", "int64_t", "sizes"),
        Array("piece_size", "int64_t", "pieces", written=True),
        Array("piece_brackets", "int64_t", "pieces", written=True),
        Array("totals", "int64_t", "2", written=True),
    ),
)


class AccessoryRules(NamedTuple):
    """Rules of the detail as whole numbers: see `reference.brackets`; insertions over `insertion_unit`."""

    clearance: int
    end_distance: int
    spacing: int
    insertion_unit: int
    insertion_low: int
    insertion_high: int
    insertion_target: int
    tape_lap: int
    tape_faces: int


def count_accessories(
    rows: Values, runs: RunTables, rules: AccessoryRules, reaches: Values
) -> tuple[Values, Values, int, int]:
    """`reference.brackets.count_accessories` of laid rows that are pieces.

    Of each the index of its bracket size and its brackets; joints; tape in mm. Raises ValueError for what cannot be,
    MemoryError when there is no memory.
    """
    size, brackets_of = np.empty(len(rows), np.int64), np.empty(len(rows), np.int64)
    totals = np.zeros(2, np.int64)
    given = {
        "pieces": len(rows),
        "rows": rows,
        "runs": len(runs.length),
        "knot_start": runs.knot_start,
        "knot_at": runs.knot_at,
        "knot_gap": runs.knot_gap,
        "mullion_start": runs.mullion_start,
        "mullion_at": runs.mullion_at,
        "rules": np.array(rules, dtype=np.int64),
        "sizes": len(reaches),
        "reach": reaches,
        "piece_size": size,
        "piece_brackets": brackets_of,
        "totals": totals,
    }
    arguments = COUNT_ACCESSORIES.checked(given)
    if ((rows[:, 0] < 0) | (rows[:, 0] >= len(runs.length))).any():
        raise ValueError("count_accessories: a row is of a run that there is not")
    if (rows[:, 3] < rows[:, 2]).any():
        raise ValueError("count_accessories: a row ends before it begins")
    if min(rules.spacing, rules.insertion_unit) < 1 or min(rules.clearance, rules.end_distance) < 0:
        raise ValueError(f"count_accessories: a rule is too small: {rules}")
    library = loading.compiled_library("draws")
    if library is None:
        return count_by_reference(rows, runs, rules, reaches)
    if COUNT_ACCESSORIES.function(library)(*arguments) < 0:
        raise MemoryError("no memory for the brackets")
    return size, brackets_of, int(totals[0]), int(totals[1])


def count_by_reference(
    rows: Values, runs: RunTables, rules: AccessoryRules, reaches: Values
) -> tuple[Values, Values, int, int]:
    """As `count_accessories`, by the reference in plain Python."""
    insertion = (Fraction(rate, rules.insertion_unit) for rate in rules[4:7])
    counted = brackets.count_accessories(
        [brackets.Piece(run, from_mm, to_mm) for run, _, from_mm, to_mm, *_ in rows.tolist()],
        gap_lines(runs.knot_start, runs.knot_at, runs.knot_gap),
        parts(runs.mullion_start, runs.mullion_at),
        brackets.Standing(*rules[:3]),
        brackets.Insertion(*insertion),
        rules.tape_lap,
        rules.tape_faces,
        reaches.tolist(),
    )
    size, brackets_of = (np.array(column, dtype=np.int64) for column in counted[:2])
    return size, brackets_of, counted.joints, counted.tape_mm
