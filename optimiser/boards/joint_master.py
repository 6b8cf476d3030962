"""The linear program behind the bound over joints: boards ripped into strips, and a mix of joint layouts for each run.

Rows: for every function k of length and strip width, the strips made must hold what the layouts' pieces of that width
or wider are worth by it; for every stretch, one layout; for offcuts, as many as there are. Its duals are the prices
f_k of `joint_prices`; columns are priced by an outer knapsack and by shortest paths (Gilmore and Gomory, Operations
Research 13, 1965; Dantzig and Wolfe, Operations Research 8, 1960).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import highspy
import numpy as np

from optimiser.boards.joint_prices import Pattern, SheetGroup
from optimiser.cutting.master import Floats
from optimiser.cutting.quiet_highs import QuietHighs

Entries = dict[int, float]


class JointMaster:
    """The restricted program over the patterns and layouts found so far; costs are parts of `dearest`."""

    def __init__(self, groups: Sequence[SheetGroup], stretches: int, dearest: int) -> None:
        self.groups = groups
        self.dearest = dearest
        self.known: set[tuple[int, int, Pattern]] = set()
        self.first_row: list[int] = []
        row = 0
        for group in groups:
            self.first_row.append(row)
            row += len(group.functions.worth) * len(group.widths)
        self.first_stretch = row
        row += stretches
        self.offcut_row: dict[tuple[int, int], int] = {}
        lower, upper = [0.0] * self.first_stretch + [1.0] * stretches, [highspy.kHighsInf] * row
        for g, group in enumerate(groups):
            for s, sheet in enumerate(group.sheets):
                if sheet.available is not None:
                    self.offcut_row[g, s] = row
                    lower.append(-highspy.kHighsInf)
                    upper.append(float(sheet.available))
                    row += 1
        self.solver = QuietHighs()
        self.solver.setOptionValue("presolve", "off")
        self.solver.addRows(
            row,
            np.array(lower),
            np.array(upper),
            0,
            np.zeros(row, np.int32),
            np.zeros(0, np.int32),
            np.zeros(0, np.float64),
        )
        self._add((0.0, entries) for entries in self._narrower_strips())

    def row(self, group: int, function: int, width: int) -> int:
        """The row of a function and a strip width (its index)."""
        return self.first_row[group] + function * len(self.groups[group].widths) + width

    def add_patterns(self, group: int, sheet: int, patterns: Iterable[Pattern]) -> int:
        """Adds those patterns of a sheet that are not there yet; how many were new."""
        here = self.groups[group]
        source = here.sheets[sheet]
        columns: list[tuple[float, Entries]] = []
        for pattern in patterns:
            if (group, sheet, pattern) in self.known:
                continue
            self.known.add((group, sheet, pattern))
            entries: Entries = {}
            for k, held in enumerate(source.held.tolist()):
                for strip, copies in pattern:
                    for width in strip[k]:
                        row = self.row(group, k, width)
                        entries[row] = entries.get(row, 0.0) + copies * float(held) / here.functions.unit
            if source.available is not None:
                entries[self.offcut_row[group, sheet]] = 1.0
            columns.append((source.price / self.dearest, entries))
        self._add(columns)
        return len(columns)

    def add_layouts(self, layouts: Iterable[tuple[int, Sequence[tuple[int, int, int]]]]) -> None:
        """Adds layouts: a stretch, and its pieces as (group, width index, length)."""
        columns: list[tuple[float, Entries]] = []
        for stretch, pieces in layouts:
            entries: Entries = {self.first_stretch + stretch: 1.0}
            for group, width, length in pieces:
                functions = self.groups[group].functions
                for k, worth in enumerate(functions.worth[:, length].tolist()):
                    if worth:
                        row = self.row(group, k, width)
                        entries[row] = entries.get(row, 0.0) - worth / functions.unit
            columns.append((0.0, entries))
        self._add(columns)

    def solve(self) -> float:
        """The value in parts of `dearest`; infinity where it has no solution."""
        self.solver.run_or_raise()
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return float("inf")
        return float(self.solver.getInfo().objective_function_value)

    def duals(self) -> list[Floats]:
        """f_k of the last solve, by group as [k, width]."""
        dual = np.array(self.solver.getSolution().row_dual, dtype=np.float64)
        rows = [len(group.functions.worth) * len(group.widths) for group in self.groups]
        return [
            np.maximum(0.0, dual[first : first + count].reshape(-1, len(group.widths)))
            for first, count, group in zip(self.first_row, rows, self.groups, strict=True)
        ]

    def _narrower_strips(self) -> Iterable[Entries]:
        """A strip may stand for the next narrower width, for each function by itself."""
        for g, group in enumerate(self.groups):
            for k in range(len(group.functions.worth)):
                for width in range(1, len(group.widths)):
                    yield {self.row(g, k, width): -1.0, self.row(g, k, width - 1): 1.0}

    def _add(self, columns: Iterable[tuple[float, Entries]]) -> None:
        costs: list[float] = []
        starts: list[int] = []
        rows: list[int] = []
        values: list[float] = []
        for cost, entries in columns:
            costs.append(cost)
            starts.append(len(rows))
            rows += entries.keys()
            values += entries.values()
        if costs:
            self.solver.addCols(
                len(costs),
                np.array(costs),
                np.zeros(len(costs)),
                np.full(len(costs), highspy.kHighsInf),
                len(rows),
                np.array(starts, dtype=np.int32),
                np.array(rows, dtype=np.int32),
                np.array(values, dtype=np.float64),
            )
