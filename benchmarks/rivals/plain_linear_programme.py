"""The linear programme over board patterns, written plainly: HiGHS for the master, numpy for the knapsacks.

P. C. Gilmore and R. E. Gomory, 'Multistage cutting stock problems of two and more dimensions', Operations
Research 13 (1965) 94-120. Patterns are not 'proper' across strips: a strip pattern may repeat in a board
beyond demand.
"""

from __future__ import annotations

from collections import Counter
from math import ceil
from time import perf_counter

import highspy
import numpy as np
from numpy.typing import NDArray

from benchmarks.rivals.outcome import RivalOutcome, only_board
from optimiser.cutting.problem import CuttingProblem

Pattern = Counter[int]  # piece type -> how often a board holds it
TOLERANCE = 1e-7


def plain_linear_programme(problem: CuttingProblem, *, time_limit: float) -> RivalOutcome:
    """The LP bound by column generation; at the time limit the best bound found so far (Farley 1990).

    No plan comes of it: `boards` is None. Raises ValueError for problems with several boards, offcuts,
    tapers or a carry limit.
    """
    started = perf_counter()
    board = only_board(problem)
    if problem.max_carry_stages is not None:
        raise ValueError("the plain programme knows no carry limit")
    demands = Counter[tuple[int, int, int]]()
    for piece in problem.pieces:
        width_max = board.width_mm if problem.trim else min(piece.width_max_mm, board.width_mm)
        demands[piece.length_mm, piece.width_min_mm, width_max] += piece.quantity
    types = sorted(demands)
    master = _Master([demands[piece] for piece in types])
    pricing = _Pricing(
        types, [demands[piece] for piece in types], board.length_mm, board.width_mm, board.kerf_mm
    )
    bound, note = 0.0, ""
    while True:
        value, duals = master.solve()
        best, pattern = pricing.best_pattern(duals)
        bound = max(bound, value / max(best, 1.0))  # duals divided by `best` are feasible: A. A. Farley, 1990
        if best <= 1 + TOLERANCE:
            break
        if perf_counter() - started > time_limit:
            note = f"stopped at {time_limit:g} s, LP value between {bound:.3f} and {value:.3f}"
            break
        master.add(pattern)
    return RivalOutcome(None, ceil(bound - TOLERANCE * max(1.0, bound)), perf_counter() - started, note)


class _Master:
    """Fewest boards so that every piece type is covered, over the patterns that are known."""

    def __init__(self, demands: list[int]) -> None:
        self.highs = highspy.Highs()
        self.highs.silent()
        # One thread, as the solver beside it: HiGHS fixes its threads once for the whole process.
        self.highs.setOptionValue("threads", 1)
        self.highs.setOptionValue("parallel", "off")
        for demand in demands:
            self.highs.addRow(float(demand), highspy.kHighsInf, 0, np.array([], np.int32), np.array([]))
        for index in range(len(demands)):
            self.add(Counter({index: 1}))

    def add(self, pattern: Pattern) -> None:
        rows = np.array(sorted(pattern), np.int32)
        counts = np.array([pattern[row] for row in sorted(pattern)], float)
        self.highs.addCol(1.0, 0.0, highspy.kHighsInf, len(rows), rows, counts)

    def solve(self) -> tuple[float, NDArray[np.float64]]:
        self.highs.run()
        duals = np.maximum(np.array(self.highs.getSolution().row_dual), 0.0)
        return self.highs.getInfo().objective_function_value, duals


class _Pricing:
    """The most valuable pattern of a board: a knapsack over lengths a strip width, then one over widths."""

    def __init__(
        self,
        types: list[tuple[int, int, int]],
        demands: list[int],
        length_mm: int,
        width_mm: int,
        kerf_mm: int,
    ) -> None:
        self.length, self.width = length_mm + kerf_mm, width_mm + kerf_mm
        self.kerf = kerf_mm
        self.lengths = [length + kerf_mm for length, _, _ in types]
        self.copies = [
            min(demand, self.length // length) for demand, length in zip(demands, self.lengths, strict=True)
        ]
        widths = sorted({width_min for _, width_min, _ in types})
        self.members = {
            width: [index for index, (_, low, high) in enumerate(types) if low <= width <= high]
            for width in widths
        }

    def best_pattern(self, duals: NDArray[np.float64]) -> tuple[float, Pattern]:
        """Value and pieces of the board that the duals value most."""
        strips = []
        for width, members in self.members.items():
            items = [
                (self.lengths[index], duals[index], index)
                for index in members
                if duals[index] > 0
                for _ in range(self.copies[index])
            ]
            value, chosen = _knapsack(items, self.length)
            if value > 0:
                strips.append((width + self.kerf, value, Counter(chosen)))
        repeated = [
            (width, value, position)
            for position, (width, value, _) in enumerate(strips)
            for _ in range(self.width // width)
        ]
        value, positions = _knapsack(repeated, self.width)
        pattern: Pattern = Counter()
        for position in positions:
            pattern.update(strips[position][2])
        return value, pattern


def _knapsack(items: list[tuple[int, float, int]], capacity: int) -> tuple[float, list[int]]:
    """The most valuable choice of items (size, value, name), each at most once, within the capacity."""
    best = np.zeros(capacity + 1)
    taken: list[NDArray[np.bool_]] = []
    for size, value, _ in items:
        better = best[:-size] + value
        take = np.zeros(capacity + 1, bool)
        take[size:] = better > best[size:] + 1e-12
        best[size:] = np.where(take[size:], better, best[size:])
        taken.append(take)
    chosen, room = [], capacity
    for (size, _, name), take in zip(reversed(items), reversed(taken), strict=True):
        if take[room]:
            chosen.append(name)
            room -= size
    return float(best[capacity]), chosen
