"""Column generation: solve the master, price, add, until the bound meets the value or is good enough."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from optimiser.cutting.attainable import Attainable
from optimiser.cutting.columns import ColumnPlan
from optimiser.cutting.demand import Demand
from optimiser.cutting.kernels import Values
from optimiser.cutting.master import Master, StripColumn
from optimiser.cutting.pricing import Priced, area_values, piece_values, price, slot_duals

MORE_THAN_ANY_COST = 1 << 62
NEARLY = 1e-6  # the linear solver's tolerance


@dataclass(frozen=True)
class Proof:
    """Values of types and of collapsed solo demand that prove a bound, and the most that a board can hold."""

    types: Values
    solo: list[Values]
    board_worth: int


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
        self.converged = False
        self.add_plan(start)
        self._note(*area_values(self.master), price(self.master, *area_values(self.master), None))

    @property
    def lower_bound(self) -> int:
        """The least whole cost that no plan can beat."""
        return self.lifted(self.bound)

    def lifted(self, value: Fraction | float) -> int:
        """The least cost of whole boards not below a fractional value (a float within the solver's tolerance).

        An infinite value, of a program without solution or cut short, lifts to more than any cost.
        """
        if value == float("inf"):
            return MORE_THAN_ANY_COST
        whole = ceil(value) if isinstance(value, Fraction) else ceil(value - NEARLY)
        return whole if self.attainable is None else self.attainable.least(whole)

    def add_plan(self, plan: ColumnPlan) -> None:
        """Adds the columns of a plan."""
        self.master.add(column for column, _ in plan.strips if not self.is_collapsed_solo(column))
        self.master.add(column for column, _ in plan.boards)

    def is_collapsed_solo(self, column: StripColumn) -> bool:
        """Whether the strip holds a solo piece that the master counts as plain demand for a slot."""
        if not self.demand.collapsed:
            return False
        components = self.demand.families[column.family].components
        return any(self.demand.types[t].solo for c, _ in column.pairs for t in components[c].types)

    def add_columns(self) -> int:
        """Prices at the duals of the last solve, adds what improves and updates the bound; how many were new.

        The bound holds for the whole problem whatever columns are fixed: it depends on the duals alone.
        """
        duals = self.master.duals()
        types, solo = piece_values(self.master, duals)
        priced = price(self.master, types, solo, slot_duals(self.master, duals), duals)
        self._note(types, solo, priced)
        return self.master.add(priced.columns)

    def _note(self, types: Values, solo: list[Values], priced: Priced) -> None:
        """Keeps the best bound with the values that prove it."""
        if priced.bound >= self.bound:
            self.bound = priced.bound
            self.proof = Proof(types, solo, priced.board_worth)

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
        value = float("inf")
        number = 0
        while self.lower_bound < good_enough() and not out_of_time():
            latest = self.master.solve()
            if latest == float("inf"):
                break  # out of time: duals of an unfinished solve are not worth pricing
            value = latest
            number += 1
            solved(number)
            new = self.add_columns()
            if self.lower_bound >= good_enough() or float(self.bound) >= value - within * max(1.0, value):
                self.converged = True
                break
            if new == 0:
                self.converged = True
                break
        return value
