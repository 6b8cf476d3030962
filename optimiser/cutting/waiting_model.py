"""The least waiting as a small linear program: strips, the stage at which each is ripped, and the room for them.

A strip, its board opened at stage s, takes its width of the room that all boards opened at s have together; which
strips lie on which board is left open. So the program is a relaxation, and few rows describe it: one a type of
piece (its demand), one a stage (room), one a stage (how many boards are opened until then: a whole number, on which
`waiting_bound` branches), one for the cost. All stock is one pool, as long as the longest and with the narrowest
kerf, whatever the codes: that relaxes, too. Strips that pieces share are generated (Gilmore and Gomory, Operations
Research 13, 1965, inner problem).

The bound that a solution's duals prove is exact: they become integers, the most valuable strip of every width is
found by exact knapsacks, and the rest is integer arithmetic (Farley, Operations Research 38, 1990).

One module although long: rows, columns and prices are those of one linear program, and none is understood alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np

from optimiser.cutting.kernels import Ints, Values, price_strips
from optimiser.cutting.master import Floats, work_of
from optimiser.cutting.parts import WIDEST, pair_width
from optimiser.cutting.problem import CuttingProblem
from optimiser.cutting.quiet_highs import QuietHighs
from optimiser.cutting.waiting_kinds import Aim, kinds_of, stock_of

SCALE = 10**6  # duals are rounded to so many parts of a unit of the objective
FINER = 10**4  # and the price of a mm to so many parts of that
FIRST_EXCESS_PRICE = 10.0
SOLVING_WORK = 4_000  # of any solve, however few its iterations: tiny models would be branched for minutes
PRICING_WORK = 40  # a round of pricing, a stage and kind of piece, in the work of the linear solver
INFINITE = highspy.kHighsInf


@dataclass(frozen=True)
class Node:
    """How many boards may be opened until each stage: at least, and at most; how many pieces may wait from each stage
    to the next: at least, and at most."""

    least: tuple[int, ...]
    most: tuple[float, ...]
    least_waiting: tuple[int, ...]
    most_waiting: tuple[float, ...]

    @classmethod
    def free(cls, ranks: int) -> Node:
        """Any number of each."""
        return cls((0,) * ranks, (INFINITE,) * ranks, (0,) * ranks, (INFINITE,) * ranks)


class WaitingModel:
    """The relaxation over the columns found so far; `solve` generates the missing ones."""

    def __init__(
        self, problem: CuttingProblem, aim: Aim, seconds_left: Callable[[], float] | None = None
    ) -> None:
        """The rows for a problem and an aim; `seconds_left` limits every solve."""
        self.problem = problem
        self.aim = aim
        self.most_cost = aim.most_cost or 0
        self.seconds_left = seconds_left
        self.work = 0
        self.numbers = np.array(sorted({piece.stage for piece in problem.pieces}), dtype=np.int64)
        self.ranks = len(self.numbers)
        self.kerf = min(board.kerf_mm for board in problem.boards)
        lengths = [board.length_mm for board in problem.boards] + [o.length_mm for o in problem.offcuts]
        self.length = self.kerf + max(lengths)
        self.stock = stock_of(problem, aim, self.numbers)
        self.kinds, self.demand = kinds_of(problem, self.numbers, self.kerf, self.length)
        self.rank_of = np.array([kind.rank for kind in self.kinds], dtype=np.int64)
        self.weights = self._weights()
        self._read_components()
        self._make_rows()
        self._add_first_columns()

    def _weights(self) -> Values:
        """What a stage of waiting of each kind costs, in parts of SCALE, rounded down.

        A remainder of a board, and one of a strip, lasts until its last piece; so it costs no less than every
        piece's share of the board in area, for as long as that piece waits.
        """
        if self.aim.most_cost is not None:
            return np.full(len(self.kinds), SCALE, np.int64)
        area = self.length * max(stock.width for stock in self.stock)
        return np.array(
            [
                int(
                    SCALE
                    * self.aim.carry_cost
                    * (self.length if kind.solo else kind.length)
                    * kind.width_min
                    / area
                )
                for kind in self.kinds
            ],
            dtype=np.int64,
        )

    def _read_components(self) -> None:
        """What lies in one length of a strip that is shared: pieces, and tapered pairs."""
        single = [(t,) for t, kind in enumerate(self.kinds) if not kind.solo]
        pairs: dict[tuple[int, ...], int] = {}
        tapered = [t for t, kind in enumerate(self.kinds) if kind.ends]
        for position, a in enumerate(tapered):
            for b in tapered[position:]:
                first, second = self.kinds[a], self.kinds[b]
                if first.length == second.length and first.ends and second.ends:
                    pairs[a, b] = pair_width(first.ends, second.ends, self.kerf)
        self.components: list[tuple[int, ...]] = [*single, *pairs]
        kinds = [self.kinds[members[0]] for members in self.components]
        self.lengths = _ints([kind.length for kind in kinds])
        self.width_min = _ints(
            [pairs.get(members, kind.width_min) for members, kind in zip(self.components, kinds, strict=True)]
        )
        self.width_max = _ints(
            [
                WIDEST if members in pairs else kind.width_max
                for members, kind in zip(self.components, kinds, strict=True)
            ]
        )
        self.bounds = _ints([int(min(self.demand[t] for t in members)) for members in self.components])
        self.one = np.array([members[0] for members in self.components], dtype=np.int64)
        self.other = np.array(
            [members[-1] if len(members) > 1 else -1 for members in self.components], np.int64
        )
        self.solo = np.array([t for t, kind in enumerate(self.kinds) if kind.solo], dtype=np.int64)
        self.solo_width = np.array(
            [self.kinds[t].width_min + self.kerf for t in self.solo.tolist()], np.int64
        )

    def _make_rows(self) -> None:
        """Rows: demand, room, boards opened until each stage, their cost until then, what is limited."""
        kinds, ranks = len(self.kinds), self.ranks
        self.room_row = kinds
        self.count_row = kinds + ranks
        self.until_row = self.count_row + ranks
        self.limited = [j for j, stock in enumerate(self.stock) if stock.limit is not None]
        self.limit_row = {j: self.until_row + ranks + k for k, j in enumerate(self.limited)}
        self.budget_row = self.until_row + ranks + len(self.limited)
        self.waiting_row = self.budget_row + 1
        until = self.aim.cost_until or (0,) * ranks
        most = INFINITE if self.aim.most_cost is None else float(self.aim.most_cost)
        lower = [*self.demand.tolist(), *[-INFINITE] * ranks, *[0.0] * ranks, *until]
        upper = [*[INFINITE] * kinds, *[0.0] * ranks, *[INFINITE] * (2 * ranks)]
        limits = [float(self.stock[j].limit or 0) for j in self.limited]
        lower += [-INFINITE] * (len(limits) + 1)
        upper += [*limits, most]
        lower += [0.0] * ranks
        upper += [INFINITE] * ranks
        self.rows = len(lower)
        self.until = until
        self.columns: set[tuple[int, tuple[int, ...]]] = set()
        self.count = 0
        self.boards: dict[tuple[int, int], int] = {}
        self.solver = QuietHighs()
        self.solver.setOptionValue("presolve", "off")
        empty = (np.zeros(self.rows, np.int32), np.zeros(0, np.int32), np.zeros(0))
        self.solver.addRows(self.rows, np.array(lower, float), np.array(upper, float), 0, *empty)

    def _add_first_columns(self) -> None:
        entries: list[dict[int, float]] = []
        costs: list[float] = []
        for j, stock in enumerate(self.stock):
            for s in range(stock.earliest, self.ranks):
                column = {self.room_row + s: -float(stock.width)}
                if stock.bought:
                    column |= {self.count_row + later: 1.0 for later in range(s, self.ranks)}
                    if stock.price:
                        column |= {
                            self.until_row + later: float(stock.price) for later in range(s, self.ranks)
                        }
                        if self.aim.most_cost is not None:
                            column[self.budget_row] = float(stock.price)
                if j in self.limit_row:
                    column[self.limit_row[j]] = 1.0
                self.boards[j, s] = self.count + len(entries)
                entries.append(column)
                costs.append(0.0 if self.aim.most_cost is not None else float(stock.price))
        self._add(entries, costs)
        # room that no plan has, at a price that is raised until none is used: without it a node has no solution
        self.excess = np.arange(self.count, self.count + self.ranks, dtype=np.int32)
        self.excess_price = FIRST_EXCESS_PRICE
        if self.aim.most_cost is None:
            self.excess_price *= max(stock.price for stock in self.stock)
        widest = float(max(stock.width for stock in self.stock))
        self._add([{self.room_row + s: -widest} for s in range(self.ranks)], [self.excess_price] * self.ranks)
        self.add_strips(
            [(int(self.rank_of[t]), (t,), int(self.kinds[t].width_min)) for t in range(len(self.kinds))]
        )

    def _add(self, entries: Sequence[dict[int, float]], costs: Sequence[float]) -> None:
        starts = np.cumsum([0, *(len(column) for column in entries)])
        self.solver.addCols(
            len(entries),
            np.array(costs, float),
            np.zeros(len(entries)),
            np.full(len(entries), INFINITE),
            int(starts[-1]),
            starts[:-1].astype(np.int32),
            np.array([row for column in entries for row in column], dtype=np.int32),
            np.array([value for column in entries for value in column.values()], dtype=float),
        )
        self.count += len(entries)

    def add_strips(self, strips: Sequence[tuple[int, tuple[int, ...], int]]) -> int:
        """Adds strips that are not there yet: (rank of opening, kinds of its pieces, width in mm)."""
        entries: list[dict[int, float]] = []
        costs: list[float] = []
        for s, kinds, width in strips:
            key = (s, tuple(sorted(kinds)))
            if key in self.columns:
                continue
            self.columns.add(key)
            held = Counter(kinds)
            stages = [
                int(self.weights[t]) * int(self.numbers[self.rank_of[t]] - self.numbers[s]) for t in kinds
            ]
            waiting = Counter(u for t in kinds for u in range(s, int(self.rank_of[t])))
            entries.append(
                {t: float(copies) for t, copies in held.items()}
                | {self.room_row + s: float(width + self.kerf)}
                | {self.waiting_row + u: float(count) for u, count in waiting.items()}
            )
            costs.append(sum(stages) / SCALE)
        if entries:
            self._add(entries, costs)
        return len(entries)

    def set_node(self, node: Node) -> None:
        """How many boards may be opened until each stage, and how many pieces wait from it to the next."""
        for s in range(self.ranks):
            self.solver.changeRowBounds(self.count_row + s, float(node.least[s]), float(node.most[s]))
            self.solver.changeRowBounds(
                self.waiting_row + s, float(node.least_waiting[s]), float(node.most_waiting[s])
            )

    def set_most_cost(self, cost: int) -> None:
        """Another ceiling of the cost, keeping the columns."""
        self.most_cost = cost
        self.solver.changeRowBounds(self.budget_row, -INFINITE, float(cost))

    def solve_once(self) -> float:
        """Solves over the columns there are; infinity when time ran out."""
        if self.seconds_left is not None:
            limit = max(0.0, self.seconds_left()) + self.solver.getRunTime()
            self.solver.setOptionValue("time_limit", limit)
        self.solver.run_or_raise()
        self.work += SOLVING_WORK + work_of(self.solver, self.count, self.rows)
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return float("inf")
        return float(self.solver.getInfo().objective_function_value)

    def duals(self) -> Floats:
        """The row duals of the last solve."""
        return np.array(self.solver.getSolution().row_dual, dtype=np.float64)

    def opened(self) -> tuple[Floats, float]:
        """Boards bought until each stage in the last solution, and how much room beyond them it uses, in boards."""
        values = np.array(self.solver.getSolution().col_value, dtype=np.float64)
        counts = np.zeros(self.ranks)
        for (j, s), k in self.boards.items():
            if self.stock[j].bought:
                counts[s] += values[k]
        return np.cumsum(counts), float(values[self.excess].sum())

    def waiting(self) -> Floats:
        """Pieces that wait from each stage to the next in the last solution."""
        values = np.array(self.solver.getSolution().row_value, dtype=np.float64)
        return values[self.waiting_row : self.waiting_row + self.ranks]

    def raise_excess_price(self, factor: float) -> None:
        """Makes room that no plan has dearer."""
        self.excess_price *= factor
        self.solver.changeColsCost(self.ranks, self.excess, np.full(self.ranks, self.excess_price))

    def price(self, duals: Floats, node: Node) -> tuple[int, Fraction]:
        """Adds the strips that improve the solution; how many, and the bound that the duals prove at this node."""
        pieces = np.maximum(0, np.floor(duals[: len(self.kinds)] * SCALE)).astype(np.int64)
        room = np.maximum(0.0, -duals[self.room_row : self.room_row + self.ranks]) * SCALE  # of a mm
        # the duals of waiting from each stage to the next, in whole parts; and their sums until each stage
        steps = _whole_duals(duals[self.waiting_row :], node.least_waiting, node.most_waiting)
        until_step = np.concatenate([[0], np.cumsum(steps)])[: self.ranks]
        found: list[tuple[int, tuple[int, ...], int]] = []
        prices: list[int] = []  # of a mm at each stage, at which no strip is worth more than its width
        carry = self.problem.max_carry_stages
        for s in range(self.ranks):
            ahead = self.numbers[self.rank_of] - self.numbers[s]
            allowed = ahead >= 0
            if carry is not None:
                allowed &= ahead <= carry
            forced = until_step[self.rank_of] - until_step[s]
            worth = np.where(allowed, np.maximum(0, pieces - self.weights * ahead + forced), 0)
            dearest = 0
            if len(self.solo):
                of_solo = worth[self.solo]
                dearest = int(np.max(-(-of_solo * FINER // self.solo_width)))
                found += [
                    (s, (t,), int(self.kinds[t].width_min))
                    for t in self.solo[of_solo > room[s] * self.solo_width + 1].tolist()
                ]
            if len(self.components):
                dearest = max(dearest, self._price_shared(s, worth, allowed, room[s], found))
            prices.append(dearest)
        self.work += PRICING_WORK * self.ranks * len(self.kinds)
        new = self.add_strips(found)
        return new, self._bound(pieces, prices, steps, duals, node)

    def _price_shared(
        self,
        s: int,
        worth: Values,
        allowed: np.ndarray,
        room: float,
        found: list[tuple[int, tuple[int, ...], int]],
    ) -> int:
        """Strips that pieces share, ripped at rank s; the least whole price of a mm that none exceeds."""
        together = worth[self.one] + np.where(self.other >= 0, worth[self.other], 0)
        together = np.where((self.other < 0) | (allowed[self.one] & allowed[self.other]), together, 0)
        use = np.flatnonzero(together > 0)
        if not len(use):
            return 0
        widths = np.unique(self.width_min[use])
        across = widths.astype(np.int64) + self.kerf
        patterns, own_width = price_strips(
            self.lengths[use], self.width_min[use], self.width_max[use], self.bounds[use], together[use], widths,
            self.length, np.ceil(room * across).astype(np.int64),
        )  # fmt: skip
        better = np.flatnonzero(patterns.best > room * across + 1).tolist()
        better += (len(widths) + np.flatnonzero(own_width >= 0)).tolist()
        for k in better:
            held = [(int(use[c]), copies) for c, copies in patterns.pairs(k)]
            kinds = tuple(t for c, copies in held for t in self.components[c] * copies)
            found.append((s, kinds, max(int(self.width_min[c]) for c, _ in held)))
        return int(np.max(-(-patterns.best * FINER // across)))

    def _bound(self, pieces: Values, prices: list[int], steps: Values, duals: Floats, node: Node) -> Fraction:
        """Weak duality in whole numbers, in parts of SCALE x FINER; see the module's text."""
        total = FINER * sum(int(value) * int(need) for value, need in zip(pieces, self.demand, strict=True))
        for dual, fewest, most in zip(steps.tolist(), node.least_waiting, node.most_waiting, strict=True):
            if dual:
                total += FINER * dual * (fewest if dual > 0 else int(most))
        counts = [round(float(d) * SCALE) for d in duals[self.count_row : self.until_row]]
        until = [max(0, round(float(d) * SCALE)) for d in duals[self.until_row : self.until_row + self.ranks]]
        for s, dual in enumerate(counts):
            if dual > 0:
                total += FINER * dual * node.least[s]
            elif dual < 0:
                if node.most[s] == INFINITE:
                    counts[s] = 0
                else:
                    total += FINER * dual * int(node.most[s])
        total += FINER * sum(dual * cost for dual, cost in zip(until, self.until, strict=True))
        later_counts = np.cumsum(np.array(counts[::-1], dtype=object))[::-1]
        later_until = np.cumsum(np.array(until[::-1], dtype=object))[::-1]
        # what a board opened at s would gain beyond its price: the cost's own dual, and limits, must cover it
        gains = [
            max(
                prices[s] * stock.width
                + (FINER * (int(later_counts[s]) + int(later_until[s]) * stock.price) if stock.bought else 0)
                for s in range(stock.earliest, self.ranks)
            )
            if stock.earliest < self.ranks
            else 0
            for stock in self.stock
        ]
        free = [
            (gain, stock.price) for gain, stock in zip(gains, self.stock, strict=True) if stock.limit is None
        ]
        if any(gain > 0 and price == 0 for gain, price in free):
            return Fraction(0)
        needed = max((Fraction(gain, price) for gain, price in free if price), default=Fraction(0))
        if self.aim.most_cost is None:
            of_cost = Fraction(SCALE * FINER)
            if needed > of_cost:  # scaled down, the duals are feasible again
                return Fraction(0) if total <= 0 else Fraction(total) / needed
        else:
            wanted = Fraction(round(-float(duals[self.budget_row]) * SCALE) * FINER)
            of_cost = max(Fraction(0), needed, min(wanted, needed) if free else wanted)
        bound = Fraction(total)
        if self.aim.most_cost is not None:
            bound -= of_cost * self.most_cost
        for gain, stock in zip(gains, self.stock, strict=True):
            if stock.limit is not None:
                bound -= max(Fraction(0), gain - of_cost * stock.price) * stock.limit
        return max(Fraction(0), bound / (SCALE * FINER))


def _whole_duals(duals: Floats, least: Sequence[int], most: Sequence[float]) -> Values:
    """The duals of rows in parts of SCALE, 0 where the side that a dual prices has no limit."""
    whole = np.round(duals * SCALE).astype(np.int64)
    unlimited = np.array([limit == INFINITE for limit in most]) & (whole < 0)
    return np.where(unlimited | ((np.array(least) == 0) & (whole > 0)), 0, whole)


def _ints(values: Sequence[int]) -> Ints:
    return np.array(values, dtype=np.int32)
