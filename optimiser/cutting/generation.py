"""Column generation: solve the master, price, add, until the bound meets the value or is good enough."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate
from math import ceil

import numpy as np

from optimiser.cutting.attainable import Attainable
from optimiser.cutting.columns import ColumnPlan, complete, offcut_columns
from optimiser.cutting.demand import Demand
from optimiser.cutting.heuristic import TOLERANCES
from optimiser.cutting.kernels import Values
from optimiser.cutting.master import BoardColumn, Floats, Master, OffcutColumn, StripColumn
from optimiser.cutting.pricing import Priced, area_values, piece_values, price, slot_duals, strips_at
from optimiser.cutting.rack import filled_rack
from optimiser.cutting.strip_program import StripPatterns

MORE_THAN_ANY_COST = 1 << 62
NEARLY = 1e-6  # the linear solver's tolerance
SMOOTHING = 0.7  # of the duals towards those of the best bound, where there is a rack: it halves the rounds (measured)
SMOOTHING_FROM_PRICES = 0.5  # where that began at the prices without the rack (measured)
FILL_EVERY = (
    3  # rounds: patterns of all offcuts that do not ask for the same pieces, until the bound is CLOSE
)
CLOSE = 0.003
MOST_FILLED_ROWS = 1_000  # of a master: with more, rounds without such patterns are the quicker way


@dataclass(frozen=True)
class Proof:
    """Values of types and of collapsed solo demand that prove a bound, and the most that a board can hold.

    `ratio` is what a unit of value costs at the least, `stock_worth` the most that all offcuts together can hold.
    """

    types: Values
    solo: list[Values]
    board_worth: int
    ratio: Fraction = Fraction(0)
    stock_worth: int = 0


class ColumnGeneration:
    """The master with its pricing; `bound` is the best proved so far."""

    def __init__(
        self,
        demand: Demand,
        start: ColumnPlan,
        seconds_left: Callable[[], float] | None = None,
        attainable: Attainable | None = None,
    ) -> None:
        """Starts from the columns of a feasible plan; `seconds_left` limits every solve of the master,
        `attainable` says which costs whole boards can have (None: any whole number)."""
        self.demand = demand
        self.attainable = attainable
        self.master = Master(demand, seconds_left)
        self.bound = Fraction(0)
        self.proof = Proof(*area_values(self.master), 1)
        self.worths: Values | None = None  # of the types, at the last prices
        self.center: Floats | None = None  # the duals that gave the best bound
        self.smoothing = SMOOTHING
        self.boards_bought: dict[str, float] = {}  # by code, in the last solution of the master
        self.converged = False
        self.value = float("inf")  # of the master at its last solve: the bound comes no higher
        self.by_mixtures = 0  # the cost of the cheapest whole numbers of boards, where that is proved
        self.on_priced: Callable[[Priced], None] | None = None  # told of every pricing
        self.add_plan(start)
        if demand.racks:  # whatever the offcuts are fixed to, bought boards can serve every type
            self.add_plan(complete(demand, [], TOLERANCES[:1], further_offcuts=False))
        self._note(*area_values(self.master), price(self.master, *area_values(self.master), None))

    @property
    def lower_bound(self) -> int:
        """The least whole cost that no plan can beat."""
        return max(self.by_mixtures, self.rounded_up_bound(self.bound))

    def rounded_up_bound(self, value: Fraction | float) -> int:
        """The least cost of whole boards not below a fractional value (a float within the solver's tolerance).

        An infinite value, of a program without solution or cut short, lifts to more than any cost.
        """
        if value == float("inf"):
            return MORE_THAN_ANY_COST
        whole = ceil(value) if isinstance(value, Fraction) else ceil(value - NEARLY)
        return whole if self.attainable is None else self.attainable.least(whole)

    def add_plan(self, plan: ColumnPlan) -> None:
        """Adds the columns of a plan."""
        rack, sources = self.demand.rack, self.demand.sources
        self.master.add(
            column
            for column, _ in plan.strips
            if column.family not in rack and not self.is_collapsed_solo(column)
        )
        self.master.add(column for column, _ in plan.boards if sources[column.source].family not in rack)
        self.master.add(offcut_columns(self.demand, plan))

    def is_collapsed_solo(self, column: StripColumn) -> bool:
        """Whether the strip holds a solo piece that the master counts as plain demand for a slot."""
        components = self.demand.families[column.family].components
        return any(self.demand.collapsed[t] is not None for c, _ in column.pairs for t in components[c].types)

    def add_columns(self) -> int:
        """Prices at the duals of the last solve, adds what improves and updates the bound; how many were new.

        The bound holds for the whole problem whatever columns are fixed: it depends on the duals alone.
        """
        duals = self.master.duals()
        if self.demand.racks and self.center is not None:
            new = self._priced_at(self.smoothing * self.center + (1 - self.smoothing) * duals)
            if new:
                return new
        return self._priced_at(duals)

    def begin_at(self, duals: Floats) -> None:
        """Prices at these duals before the first solve, and adds patterns of all offcuts together."""
        self._priced_at(duals)
        self._fill_the_rack()
        self.smoothing = SMOOTHING_FROM_PRICES

    def price_here(self) -> int:
        """Prices at the duals of the last solve, whatever it was limited to; how many columns were new."""
        return self._priced_at(self.master.duals())

    def _priced_at(self, duals: Floats) -> int:
        types, solo = piece_values(self.master, duals)
        self.worths = types
        priced = price(self.master, types, solo, slot_duals(self.master, duals), duals)
        if priced.bound > self.bound:
            self.center = duals
        self._note(types, solo, priced)
        return self.master.add(priced.columns)

    def _fill_the_rack(self) -> int:
        """Adds patterns of all offcuts together, at the last values: none lacks what another takes."""
        if self.worths is None:
            return 0
        demand = self.demand
        needed = np.array([kind.demand for kind in demand.types], dtype=np.int64)
        left = {s: demand.sources[s].available or 0 for group in demand.racks for s in group.sources}
        return self.master.add(
            OffcutColumn(*chosen) for chosen in filled_rack(demand, self.worths, needed, left)
        )

    def _note(self, types: Values, solo: list[Values], priced: Priced) -> None:
        """Keeps the best bound with the values that prove it."""
        if self.on_priced is not None:
            self.on_priced(priced)
        if priced.bound >= self.bound:
            self.bound = priced.bound
            self.proof = Proof(types, solo, priced.board_worth, priced.ratio, priced.stock_worth)

    def known_strips(self) -> Iterator[StripColumn]:
        """The patterns of strips that have been found."""
        return (column for column in self.master.columns if isinstance(column, StripColumn))

    @cached_property
    def strip_patterns(self) -> StripPatterns:
        """The patterns of the demand's strips, listed once for all who ask."""
        return StripPatterns(self.demand, self.known_strips)

    @property
    def proof_of_slots(self) -> list[Values]:
        """What strips of each family's widths are worth by the values that prove the bound."""
        found = []
        for f, family in enumerate(self.demand.families):
            strips, _ = strips_at(family, family.types_of_components.worth(self.proof.types))
            found.append(np.maximum(strips.best, np.maximum.accumulate(self.proof.solo[f])))
        return found

    def cost_until(self, stages: Sequence[int]) -> tuple[int, ...]:
        """What the boards opened until each stage cost at the least: by the same values, the pieces due by then."""
        demand, proof = self.demand, self.proof
        due: dict[int, int] = {}
        for t, kind in enumerate(demand.types):
            value = int(proof.types[t])
            home = demand.collapsed[t]
            if home is not None:
                value = int(proof.solo[home][demand.families[home].index_of_width[kind.width_min]])
            for member in kind.members:
                piece = demand.problem.pieces[member]
                due[piece.stage] = due.get(piece.stage, 0) + value * piece.quantity
        worth = accumulate(due.get(stage, 0) for stage in stages)
        return tuple(max(0, ceil(proof.ratio * (value - proof.stock_worth))) for value in worth)

    def run(
        self,
        good_enough: Callable[[], int],
        out_of_time: Callable[[], bool],
        solved: Callable[[int], None] = lambda number: None,
        within: float = 1e-6,
    ) -> float:
        """Generates until no column improves, the bound reaches the cost `good_enough` or comes `within` a part
        of the master's value, or time is out.

        `solved` is told the number of each solve of the master, while its solution is at hand. Returns the
        master's last value.
        """
        self.value = float("inf")
        number = 0
        while self.lower_bound < good_enough() and not out_of_time():
            latest = self.master.solve()
            if latest == float("inf"):
                break  # out of time: duals of an unfinished solve are not worth pricing
            self.value = latest
            number += 1
            solved(number)
            new = self.add_columns()
            fills = bool(self.demand.racks) and self.master.rows <= MOST_FILLED_ROWS
            if fills and number % FILL_EVERY == 0 and float(self.bound) < (1 - CLOSE) * self.value:
                new += self._fill_the_rack()
            if self.lower_bound >= good_enough() or float(self.bound) >= self.value - within * max(
                1.0, self.value
            ):
                self.converged = True
                break
            if new == 0:
                self.converged = True
                break
        if (
            self.value < float("inf")
            and len({s.code for s in self.demand.sources if s.available is None}) > 1
        ):
            self._note_boards_bought()
        return self.value

    def _note_boards_bought(self) -> None:
        self.boards_bought = {}
        for column, value in zip(self.master.columns, self.master.values(), strict=False):
            if isinstance(column, BoardColumn) and self.demand.sources[column.source].available is None:
                code = self.demand.sources[column.source].code
                self.boards_bought[code] = self.boards_bought.get(code, 0.0) + float(value)
