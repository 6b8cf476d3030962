"""The linear master problem: board columns make slots, strip columns fill them with pieces.

Rows: one a type (its demand), one a family and strip width (slots made - strips placed >= 0), one an offcut (at
most as many as there are), and where there are several board codes one a code, which is free until the code is
limited. A cascade column lets a wide slot serve the next narrower width, which makes the
duals of slots rise with width. Solo pieces that only one family can serve are plain demand for its slots and need no
row. An offcut whose strips no board shares is cut by whole patterns, one column each, and needs no slots.
The scheme is Gilmore and Gomory's two-stage one (Operations Research 13, 1965) with the two stages linked by
balance rows; HiGHS solves it, warm-started from column to column.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from optimiser.cutting.demand import Demand
from optimiser.cutting.quiet_highs import QuietHighs
from optimiser.cutting.rack import RackPattern

Floats = NDArray[np.float64]
Pairs = tuple[tuple[int, int], ...]

# From so many rows on starting from the last basis wins (measured: a third to a half of the time of facades from 700
# rows on, of uneven surveys a third; with a rack, whose rows are its offcuts and every piece, only from more).
ROWS_FOR_PRIMAL_SIMPLEX, ROWS_WITH_A_RACK = 400, 1000
ROW_WORK = 5  # a row's share of an iteration, in columns
DUAL_SIMPLEX, PRIMAL_SIMPLEX = 1, 4  # HiGHS's numbers for them


@dataclass(frozen=True)
class StripColumn:
    """A strip of a family at a width, holding components: (component index, copies) pairs."""

    family: int
    width: int
    pairs: Pairs


@dataclass(frozen=True)
class BoardColumn:
    """A board or offcut ripped into slots: (width index, copies) pairs."""

    source: int
    pairs: Pairs


@dataclass(frozen=True)
class CascadeColumn:
    """A slot of width index `width` used as one of the next narrower width."""

    family: int
    width: int


@dataclass(frozen=True)
class OffcutColumn:
    """A whole pattern of one offcut: strips as (width index, components, copies of the strip), widths ascending."""

    source: int
    strips: RackPattern

    def as_slots(self, demand: Demand) -> tuple[BoardColumn, list[tuple[StripColumn, int]]]:
        """The same as slots and the strips in them, with how often each."""
        slots: dict[int, int] = {}
        for width, _, copies in self.strips:
            slots[width] = slots.get(width, 0) + copies
        family = demand.sources[self.source].family
        strips = [(StripColumn(family, width, pairs), copies) for width, pairs, copies in self.strips]
        return BoardColumn(self.source, tuple(sorted(slots.items()))), strips


Column = StripColumn | BoardColumn | CascadeColumn | OffcutColumn


class Master:
    """The restricted master problem over the columns found so far."""

    def __init__(self, demand: Demand, seconds_left: Callable[[], float] | None = None) -> None:
        """Rows for every type, slot and offcut; cascade columns; no patterns yet."""
        self.demand = demand
        self.seconds_left = seconds_left
        self.columns: list[Column] = []
        self.costs: list[float] = []
        self.known: dict[Column, int] = {}
        self.work = 0  # of the linear solver so far (`work_of`): the same on every machine
        row = 0
        self.row_of_type: list[int] = []
        right: list[float] = []
        for kind, collapsed in zip(demand.types, demand.collapsed, strict=True):
            if collapsed is not None:
                self.row_of_type.append(-1)
            else:
                self.row_of_type.append(row)
                right.append(kind.demand)
                row += 1
        self.slot_row: list[int] = []
        self.solo_demand: list[NDArray[np.int64]] = []
        for f, family in enumerate(demand.families):
            self.slot_row.append(row)
            solo = np.zeros(0 if f in demand.rack else len(family.widths), np.int64)
            self.solo_demand.append(solo)
            if f in demand.rack:
                continue
            for component in family.components:
                t = component.types[0]
                if demand.collapsed[t] == f:
                    solo[family.index_of_width[component.width_min]] += demand.types[t].demand
            right += solo.tolist()
            row += len(family.widths)
        self.stock_row: dict[int, int] = {}
        upper = [highspy.kHighsInf] * row
        for s, source in enumerate(demand.sources):
            if source.available is not None:
                self.stock_row[s] = row
                right.append(-highspy.kHighsInf)
                upper.append(source.available)
                row += 1
        self.code_row: dict[str, int] = {}
        self.limited: frozenset[str] = frozenset()
        codes = list(dict.fromkeys(s.code for s in demand.sources if s.available is None))
        for code in codes if len(codes) > 1 else ():
            self.code_row[code] = row
            right.append(-highspy.kHighsInf)
            upper.append(highspy.kHighsInf)
            row += 1
        self.rows = row
        self.solver = QuietHighs()
        self.solver.setOptionValue("presolve", "off")
        self.primal = row >= (ROWS_WITH_A_RACK if demand.racks else ROWS_FOR_PRIMAL_SIMPLEX)
        if self.primal:
            self.by_primal_simplex()
        self.solver.addRows(
            row,
            np.array(right, dtype=np.float64),
            np.array(upper, dtype=np.float64),
            0,
            np.zeros(row, np.int32),
            np.zeros(0, np.int32),
            np.zeros(0, np.float64),
        )
        self.right = np.array(right, dtype=np.float64)
        self.add(
            CascadeColumn(f, w)
            for f, family in enumerate(demand.families)
            if f not in demand.rack
            for w in range(1, len(family.widths))
        )

    def by_primal_simplex(self) -> None:
        """Solves by the primal simplex from here on: the quicker way while columns come and none is fixed."""
        self.primal = True
        self.solver.setOptionValue("simplex_strategy", PRIMAL_SIMPLEX)

    def add(self, columns: Iterable[Column]) -> int:
        """Adds the columns that are not there yet; returns how many were new."""
        costs: list[float] = []
        starts: list[int] = []
        rows: list[int] = []
        values: list[float] = []
        for column in columns:
            if column in self.known:
                continue
            self.known[column] = len(self.columns)
            self.columns.append(column)
            starts.append(len(rows))
            entries = self.entries(column)
            rows += entries.keys()
            values += entries.values()
            costs.append(self.demand.sources[column.source].price if isinstance(column, BoardColumn) else 0)
        if not costs:
            return 0
        self.costs += costs
        if self.limited:
            costs = self._working_costs(len(self.columns) - len(costs))
        if self.primal:
            self.solver.setOptionValue("simplex_strategy", PRIMAL_SIMPLEX)
        count = len(costs)
        self.solver.addCols(
            count,
            np.array(costs, dtype=np.float64),
            np.zeros(count),
            np.full(count, highspy.kHighsInf),
            len(rows),
            np.array(starts, dtype=np.int32),
            np.array(rows, dtype=np.int32),
            np.array(values, dtype=np.float64),
        )
        return count

    def entries(self, column: Column) -> dict[int, float]:
        """The column's coefficients by row."""
        if isinstance(column, BoardColumn):
            source = self.demand.sources[column.source]
            first = self.slot_row[source.family]
            entries = {first + w: float(copies) for w, copies in column.pairs}
            if column.source in self.stock_row:
                entries[self.stock_row[column.source]] = 1.0
            elif source.code in self.code_row:
                entries[self.code_row[source.code]] = 1.0
            return entries
        if isinstance(column, OffcutColumn):
            entries = {self.stock_row[column.source]: 1.0}
            components = self.demand.families[self.demand.sources[column.source].family].components
            for _, pairs, times in column.strips:
                for c, copies in pairs:
                    for t in components[c].types:
                        row = self.row_of_type[t]
                        entries[row] = entries.get(row, 0.0) + copies * times
            return entries
        first = self.slot_row[column.family]
        if isinstance(column, CascadeColumn):
            return {first + column.width: -1.0, first + column.width - 1: 1.0}
        entries = {first + column.width: -1.0}
        components = self.demand.families[column.family].components
        for c, copies in column.pairs:
            for t in components[c].types:
                row = self.row_of_type[t]
                entries[row] = entries.get(row, 0.0) + copies
        return entries

    def limit_boards(self, most: Mapping[str, int]) -> None:
        """At most so many boards of these codes, which then cost nothing, so that what the others cost is least; none
        named: as it was. Where there are several codes."""
        self.limited = frozenset(most)
        for code, row in self.code_row.items():
            self.solver.changeRowBounds(row, -highspy.kHighsInf, float(most.get(code, highspy.kHighsInf)))
        indices = np.arange(len(self.columns), dtype=np.int32)
        self.solver.changeColsCost(len(indices), indices, np.array(self._working_costs(0), dtype=np.float64))

    def _working_costs(self, first: int) -> list[float]:
        """What the columns from `first` on cost in the next solve."""
        sources = self.demand.sources
        return [
            0.0 if isinstance(column, BoardColumn) and sources[column.source].code in self.limited else cost
            for column, cost in zip(self.columns[first:], self.costs[first:], strict=True)
        ]

    def price_of_board(self, source: int, duals: Floats) -> float:
        """What a bought board of this source must hold to improve the last solution: its price, or what a limit on
        its code is worth."""
        code = self.demand.sources[source].code
        price = 0.0 if code in self.limited else float(self.demand.sources[source].price)
        return price - (float(duals[self.code_row[code]]) if code in self.code_row else 0.0)

    def solve(self) -> float:
        """Solves the restricted master; its value, or infinity when it has no solution or time ran out."""
        if self.seconds_left is not None:
            limit = max(0.0, self.seconds_left()) + self.solver.getRunTime()  # HiGHS counts over all its runs
            self.solver.setOptionValue("time_limit", limit)
        self.solver.run_or_raise()
        self.work += work_of(self.solver, len(self.columns), self.rows)
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return float("inf")
        return float(self.solver.getInfo().objective_function_value)

    def duals(self) -> Floats:
        """The row duals of the last solve."""
        return np.array(self.solver.getSolution().row_dual, dtype=np.float64)

    def values(self) -> Floats:
        """The column values of the last solve."""
        return np.array(self.solver.getSolution().col_value, dtype=np.float64)

    def set_lower_bounds(self, indices: Sequence[int], lowers: Sequence[float]) -> None:
        """Fixes columns from below (diving). The next solve is by the dual simplex, for which the last basis still
        serves."""
        if self.primal:
            self.solver.setOptionValue("simplex_strategy", DUAL_SIMPLEX)
        self.solver.changeColsBounds(
            len(indices),
            np.array(indices, dtype=np.int32),
            np.array(lowers, dtype=np.float64),
            np.full(len(indices), highspy.kHighsInf),
        )


def work_of(solved: QuietHighs, columns: int, rows: int) -> int:
    """What the last solve took: simplex iterations times what each one goes over."""
    return max(0, solved.getInfo().simplex_iteration_count) * (columns + ROW_WORK * rows)
