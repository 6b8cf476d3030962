"""What boards can hold of strips, whichever they are: conditions on a family's strip widths.

Let every width have a value, rising with the width, and let no board of a source hold more than V(s) in all: values of
that kind are a dual feasible function of the width (Alves, Clautiaux, Valerio de Carvalho, Rietz, Dual-Feasible
Functions, 2016). Then the strips of a plan with n(s) boards are worth the sum of V(s) n(s) at the most, in whole
numbers. Any values give a condition; those of a linear program that finds no room for some strips give one that they
break.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Ints, Values, price_boards
from optimiser.cutting.master import Floats
from optimiser.cutting.quiet_highs import QuietHighs

PARTS = 10_000  # of a mm of width, in which prices become whole numbers
NEARLY = 1e-6  # the linear solver's tolerance


@dataclass(frozen=True)
class Condition:
    """Values of a family's widths, rising with the width, and the most that a board of each source holds of them (0 of
    the sources of other families)."""

    family: int
    values: Values
    most: tuple[int, ...]

    @classmethod
    def of(cls, demand: Demand, family: int, values: Values) -> Condition:
        """The condition of any values of a family's widths. Exact: a knapsack over integers for every source."""
        rising = np.maximum.accumulate(np.maximum(0, values)).astype(np.int64)
        own = demand.families[family]
        narrowest = int(own.widths[0]) + own.kerf
        most = []
        for source in demand.sources:
            if source.family != family:
                most.append(0)
                continue
            fits = own.widths <= source.width
            best = price_boards(
                (own.widths + own.kerf).astype(np.int32),
                np.where(fits, (source.width + own.kerf) // narrowest, 0).astype(np.int32),
                np.where(fits, rising, 0),
                source.width + own.kerf,
            ).best
            most.append(int(best[0]))
        return cls(family, rising, tuple(most))

    def held_by(self, boards: Sequence[int]) -> int:
        """The most that so many boards of each source hold."""
        return sum(worth * count for worth, count in zip(self.most, boards, strict=True))

    def worth_of(self, strips: Mapping[int, int]) -> int:
        """What strips are worth, so many of each width by its index."""
        return sum(int(self.values[w]) * count for w, count in strips.items())


def broken_condition(
    demand: Demand, family: int, boards: Sequence[int], strips: Mapping[int, int]
) -> Condition | None:
    """A condition that these strips of a family (by the index of their width) break with so many boards of each source;
    None where the boards can take them in fractions.

    The linear program of one-dimensional cutting by column generation, in which a strip that finds no room costs its
    width (Gilmore and Gomory, Operations Research 9, 1961).
    """
    if not strips:
        return None
    program = _Program(demand, family, boards, strips)
    while True:
        duals = program.duals()
        if duals is None:
            return None
        if not program.add_patterns(duals):
            break
    values = np.zeros(len(demand.families[family].widths), np.int64)
    values[program.widths] = program.in_parts(duals)
    condition = Condition.of(demand, family, values)
    return condition if condition.worth_of(strips) > condition.held_by(boards) else None


class _Program:
    """Patterns of strips on boards of which there are so many; what finds no room is paid for."""

    def __init__(self, demand: Demand, family: int, boards: Sequence[int], strips: Mapping[int, int]) -> None:
        own = demand.families[family]
        self.widths = sorted(strips)
        self.sizes: Ints = (own.widths[self.widths] + own.kerf).astype(np.int32)
        self.needed = np.array([strips[w] for w in self.widths], np.int32)
        there = [s for s, source in enumerate(demand.sources) if source.family == family and boards[s]]
        self.room = [demand.sources[s].width + own.kerf for s in there]
        rows = len(self.widths) + len(there)
        self.solver = QuietHighs()
        self.solver.addRows(
            rows,
            np.array([*map(float, self.needed), *[-highspy.kHighsInf] * len(there)]),
            np.array([*[highspy.kHighsInf] * len(self.widths), *(float(boards[s]) for s in there)]),
            0,
            np.zeros(rows, np.int32),
            np.zeros(0, np.int32),
            np.zeros(0),
        )
        for place, size in enumerate(self.sizes.tolist()):
            self._add(float(size), [(place, 1.0)])

    def _add(self, cost: float, entries: list[tuple[int, float]]) -> None:
        rows, values = zip(*entries, strict=True)
        self.solver.addCol(
            cost, 0.0, highspy.kHighsInf, len(rows), np.array(rows, np.int32), np.array(values, np.float64)
        )

    def duals(self) -> Floats | None:
        """The duals of the next solution; None where every strip finds room."""
        self.solver.run_or_raise()
        if self.solver.getInfo().objective_function_value < NEARLY:
            return None
        return np.array(self.solver.getSolution().row_dual, dtype=np.float64)

    def in_parts(self, duals: Floats) -> Values:
        """What each width is worth, in whole parts of a mm."""
        return np.maximum(0, np.floor(duals[: len(self.widths)] * PARTS)).astype(np.int64)

    def add_patterns(self, duals: Floats) -> int:
        """Adds for each source the pattern that improves the solution most; how many did."""
        values, new = self.in_parts(duals), 0
        for place, room in enumerate(self.room, len(self.widths)):
            bounds = np.where(self.sizes <= room, self.needed, 0).astype(np.int32)
            best = price_boards(self.sizes, bounds, values, room)
            if int(best.best[0]) > -duals[place] * PARTS + len(self.widths):
                self._add(0.0, [*((k, float(count)) for k, count in best.pairs(0)), (place, 1.0)])
                new += 1
        return new
