"""The cheapest boards that could hold whole strips for all pieces, by what is known of strips on boards.

`strip_program` asks whether given numbers of boards do. Where there are many pieces, the cheapest numbers that the
linear program allows hardly ever do, and which of the next ones do is best left to the integer program itself: how
often each pattern of a strip is cut and how many boards of each source are bought, at least cost, under the same
conditions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from optimiser.cutting.demand import Demand
from optimiser.cutting.quiet_highs import QuietHighs
from optimiser.cutting.strip_conditions import Condition
from optimiser.cutting.strip_program import FormedStrip, StripPatterns, without_surplus

MOST_NODES = 20  # of branch and bound: nearly all is found at the root (measured)
NEAR_ENOUGH = 1e-4  # of the cost
WORTH_TAKING = 2e-4  # of the linear program's cost: a pattern that costs more beyond its worth is left out
SHARE_OF_TIME = 0.7  # of what is left; the strips are still to be dealt out


@dataclass(frozen=True)
class ChosenStrips:
    """Strips for all pieces, and the boards of each source that could hold them by all conditions."""

    boards: tuple[int, ...]
    strips: tuple[FormedStrip, ...]


def cheapest_strips(
    every: StripPatterns,
    conditions: Sequence[Condition],
    below: int,
    seconds_left: Callable[[], float] | None = None,
) -> ChosenStrips | None:
    """Strips and boards that cost less than `below`, in the solver's units, as cheap as they are found; None where none
    are. Without `seconds_left` the same on every machine."""
    demand = every.demand
    patterns, _ = every.of(sorted({source.family for source in demand.sources}))
    program = _Program(demand, patterns, conditions, below)
    worth = program.worth_taking()
    if worth is None:
        return None
    patterns = [pattern for pattern, taken in zip(patterns, worth, strict=True) if taken]
    times = _Program(demand, patterns, conditions, below).whole(seconds_left)
    if times is None:
        return None
    strips = tuple(without_surplus(demand, zip(patterns, times[: len(patterns)], strict=True)))
    return ChosenStrips(tuple(times[len(patterns) :]), strips)


class _Program:
    """A row a type of piece and one a condition; a column a pattern of a strip and one a source of boards."""

    def __init__(
        self, demand: Demand, patterns: Sequence[FormedStrip], conditions: Sequence[Condition], below: int
    ) -> None:
        self.solver = QuietHighs()
        self.below = below
        needed = [float(kind.demand) for kind in demand.types]
        rows = len(needed) + len(conditions)
        self.solver.addRows(
            rows,
            np.array([*needed, *[-highspy.kHighsInf] * len(conditions)]),
            np.array([*[highspy.kHighsInf] * len(needed), *[0.0] * len(conditions)]),
            0,
            np.zeros(rows, np.int32),
            np.zeros(0, np.int32),
            np.zeros(0),
        )
        self.patterns = len(patterns)
        scales = [max(1, *condition.most) for condition in conditions]  # so that the rows are of one size
        by_row = list(zip(range(len(needed), rows), conditions, scales, strict=True))
        for pattern in patterns:
            held = Counter(pattern.types)
            most = min(demand.types[t].demand // count for t, count in held.items())
            worths = {
                row: int(condition.values[pattern.width]) / scale
                for row, condition, scale in by_row
                if condition.family == pattern.family
            }
            self._add(0, most, {**held, **worths})
        for s, source in enumerate(demand.sources):
            room = {row: -condition.most[s] / scale for row, condition, scale in by_row if condition.most[s]}
            self._add(source.price, -(-below // max(1, source.price)), room)

    def _add(self, cost: int, most: int, entries: dict[int, float]) -> None:
        self.solver.addCol(
            float(cost),
            0.0,
            float(most),
            len(entries),
            np.array(list(entries), np.int32),
            np.array(list(entries.values()), np.float64),
        )

    def worth_taking(self) -> list[bool] | None:
        """Of each pattern whether plans near the least cost in fractions may take it; None where all cost too much."""
        self.solver.run_or_raise()
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        least = self.solver.getInfo().objective_function_value
        if least >= self.below:
            return None
        reduced = np.array(self.solver.getSolution().col_dual)[: self.patterns]
        return [bool(taken) for taken in reduced <= WORTH_TAKING * least]

    def whole(self, seconds_left: Callable[[], float] | None) -> list[int] | None:
        """How often each column is taken in whole numbers; None where no solution below the cost was found."""
        # the heuristic by reduced cost takes two thirds of the time and finds no more (measured)
        for option, value in (
            ("mip_max_nodes", MOST_NODES),
            ("mip_rel_gap", NEAR_ENOUGH),
            ("mip_heuristic_run_root_reduced_cost", False),
            ("objective_bound", self.below - 0.5),
        ):
            self.solver.setOptionValue(option, value)
        if seconds_left is not None:
            self.solver.setOptionValue("time_limit", max(0.01, SHARE_OF_TIME * seconds_left()))
        count = self.solver.getNumCol()
        integer = np.full(count, int(highspy.HighsVarType.kInteger), np.uint8)
        self.solver.changeColsIntegrality(count, np.arange(count, dtype=np.int32), integer)
        self.solver.run_or_raise()
        found = self.solver.getInfo()
        if found.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        if found.objective_function_value > self.below - 0.5:
            return None
        return [round(value) for value in self.solver.getSolution().col_value]
