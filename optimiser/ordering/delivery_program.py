"""The integer program of delivery days: which unit arrives when, and what follows from it in loads, area and money.

x[unit, day] is 1 where the unit arrives that day. Packs of a product arrive in the order in which they are needed.
All coefficients are whole numbers: packs, grams, cents, and mm2 divided as evenly as the stacks ask.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import Any

from ortools.sat.python import cp_model

from optimiser.model.money import NOTHING, cents_of
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_days import Unit, pack_grams, products_apart
from optimiser.ordering.site_floor import SiteFloor


class Program:
    """The variables of one project's deliveries, before anything is minimised."""

    def __init__(
        self, project: Project, limits: DeliveryLimits, units: Sequence[Unit], floor: SiteFloor
    ) -> None:
        self.project = project
        self.limits = limits
        self.units = units
        self.floor = floor
        self.areas = [floor.of_lines(unit.lines) for unit in units]
        self.days = sorted({day for unit in units for day in unit.slots})
        self.model = cp_model.CpModel()
        self.x = {
            (u, day): self.model.new_bool_var(f"x{u} {day}")
            for u, unit in enumerate(units)
            for day in unit.slots
        }
        for u, unit in enumerate(units):
            self.model.add_exactly_one(self.x[u, day] for day in unit.slots)
        self.there = self._there()
        self._in_order_of_need()
        self.used = self._used()
        self.packs = self._packs()
        self._goods: dict[date, Any] = {}
        self._loads: dict[date, Any] = {}

    def _used(self) -> dict[date, Any]:
        used = {day: self.model.new_bool_var(f"used {day}") for day in self.days}
        for (_, day), here in self.x.items():
            self.model.add_implication(here, used[day])
        for day, some in used.items():
            comes = [self.x[u, day] for u, unit in enumerate(self.units) if day in unit.slots]
            self.model.add_bool_or(comes).only_enforce_if(some)
        return used

    def _there(self) -> dict[tuple[int, date], Any]:
        """Whether a unit has arrived by each of its days: a ladder of 0 and 1, its last rung always 1."""
        there: dict[tuple[int, date], Any] = {}
        for u, unit in enumerate(self.units):
            before: Any = 0
            for day in unit.slots:
                there[u, day] = self.model.new_bool_var(f"there{u} {day}")
                self.model.add(there[u, day] == before + self.x[u, day])
                before = there[u, day]
        return there

    def _arrived_by(self, u: int, day: date) -> Any:
        """1 where a unit has arrived by a day of delivery, else 0."""
        slots = self.units[u].slots
        if day >= slots[-1]:
            return 1
        last = bisect_right(slots, day)
        return self.there[u, slots[last - 1]] if last else 0

    def _in_order_of_need(self) -> None:
        """Of two units of one product the one that is needed later does not arrive earlier: packs are alike."""
        own = products_apart(self.project)
        alike: dict[str, list[int]] = defaultdict(list)
        for u, unit in enumerate(self.units):
            code = unit.lines[0].code if len(unit.lines) == 1 else ""
            alike[code if code in own else ""].append(u)
        for units in alike.values():
            units.sort(key=lambda u: self.units[u].slots[-1])
            for earlier, later in pairwise(units):
                for day in self.days:
                    if day < self.units[earlier].slots[-1]:
                        self.model.add(self._arrived_by(later, day) <= self._arrived_by(earlier, day))

    def _packs(self) -> dict[tuple[date, str], Any]:
        """Packs of each product that arrive each day."""
        found: dict[tuple[date, str], list[Any]] = defaultdict(list)
        for u, unit in enumerate(self.units):
            for line in unit.lines:
                for day in unit.slots:
                    found[day, line.code].append(line.packs * self.x[u, day])
        return {place: sum(terms) for place, terms in found.items()}

    def start_from(self, arrives: Sequence[date], solver: cp_model.CpSolver) -> None:
        """The search starts from these days, and from all that follows from them in the model as it stands."""
        self.model.clear_hints()
        for (u, day), here in self.x.items():
            self.model.add_hint(here, day == arrives[u])
        solver.parameters.fix_variables_to_their_hinted_value = True
        found = solver.solve(self.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        solver.parameters.fix_variables_to_their_hinted_value = False
        if found:
            self.model.clear_hints()
            for index in range(len(self.model.proto.variables)):
                variable = self.model.get_int_var_from_proto_index(index)
                self.model.add_hint(variable, solver.value(variable))

    def standing(self, day: date) -> Any:
        """What stands on site when a day's delivery has arrived, in the floor's mm2 / parts."""
        there = sum(area * self._arrived_by(u, day) for u, area in enumerate(self.areas) if area)
        return there + self.floor.waiting(day) - self.floor.cut_before(day)

    def most_standing(self, day: date) -> int:
        """No schedule has more standing that day than this."""
        return max(0, sum(self.areas) + self.floor.waiting(day))

    def loads(self, day: date) -> Any:
        """Truckloads of a day, none where nothing comes: at least as many as its pallets and its weight take."""
        if day not in self._loads:
            self._loads[day] = self._loads_of(day)
        return self._loads[day]

    def most_loads(self) -> int:
        """No day of any schedule needs more loads than this."""
        grams = pack_grams(self.project)
        most = 1 + sum(line.packs for unit in self.units for line in unit.lines)
        if self.limits.truck_payload_kg:
            brought = sum(line.packs * grams.get(line.code, 0) for unit in self.units for line in unit.lines)
            most += brought // (self.limits.truck_payload_kg * 1000)
        return most

    def _loads_of(self, day: date) -> Any:
        limits = self.limits
        if limits.truck_pallets is None and limits.truck_payload_kg is None:
            return self.used[day]
        loads = self.model.new_int_var(0, self.most_loads(), f"loads {day}")
        self.model.add(loads >= self.used[day])
        if limits.truck_pallets is not None:
            holds = limits.pallet_packs or 1
            pallets = []
            for code in self.floor.boards:
                if (day, code) in self.packs and holds == 1:
                    pallets.append(self.packs[day, code])
                elif (day, code) in self.packs:
                    most = sum(line.packs for unit in self.units for line in unit.lines if line.code == code)
                    count = self.model.new_int_var(0, most, f"pallets {code} {day}")
                    self.model.add(count * holds >= self.packs[day, code])
                    pallets.append(count)
            if pallets:
                self.model.add(loads * limits.truck_pallets >= sum(pallets))
        if limits.truck_payload_kg is not None:
            weights = [
                grams * self.packs[day, code]
                for code, grams in pack_grams(self.project).items()
                if (day, code) in self.packs
            ]
            if weights:
                self.model.add(loads * limits.truck_payload_kg * 1000 >= sum(weights))
        return loads

    def goods(self, day: date) -> Any:
        """A day's cents: of products with price breaks by the number that comes, of others by the line."""
        if day not in self._goods:
            self._goods[day] = self._goods_of(day)
        return self._goods[day]

    def _goods_of(self, day: date) -> Any:
        breaks: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for row in sorted(self.project.price_breaks, key=lambda row: row.from_packs):
            breaks[row.code].append((row.from_packs, cents_of(row.price)))
        terms: list[Any] = [
            line.packs * cents_of(line.price) * self.x[u, day]
            for u, unit in enumerate(self.units)
            if day in unit.slots
            for line in unit.lines
            if line.code not in breaks
        ]
        for code, steps in breaks.items():
            if (day, code) in self.packs:
                terms += self._at_price_breaks(day, code, steps)
        return sum(terms)

    def _at_price_breaks(self, day: date, code: str, steps: Sequence[tuple[int, int]]) -> list[Any]:
        """The cents of a product's packs on a day: one tier of its price holds for all of them."""
        starts = [(0, cents_of(self.project.product(code).price)), *steps]
        tiers = [self.model.new_bool_var(f"{code} {day} from {start}") for start, _ in starts]
        self.model.add_exactly_one(tiers)
        most = sum(line.packs for unit in self.units for line in unit.lines if line.code == code)
        terms: list[Any] = []
        bought: list[Any] = []
        ends = [start - 1 for start, _ in starts[1:]] + [most]
        for tier, (start, price), end in zip(tiers, starts, ends, strict=True):
            packs = self.model.new_int_var(0, max(0, min(end, most)), f"{code} {day} at {price}")
            self.model.add(packs >= start * tier)
            self.model.add(packs <= end * tier)
            bought.append(packs)
            terms.append(price * packs)
        self.model.add(sum(bought) == self.packs[day, code])
        return terms

    # -- what a schedule may do too much or too little of

    def above_storage(self) -> Any:
        """Area above the site's storage, over all days of arrival."""
        limit = (self.limits.site_storage_m2 or 0) * 10**6 * self.floor.parts
        above = []
        for day in self.days:
            over = self.model.new_int_var(0, self.most_standing(day), f"above {day}")
            self.model.add(over >= self.standing(day) - limit)
            above.append(over)
        return sum(above)

    def too_many_trucks(self) -> Any:
        """Truckloads above `trucks_a_delivery`, over all days."""
        above = []
        for day in self.days:
            over = self.model.new_int_var(0, self.most_loads(), f"trucks above {day}")
            self.model.add(over >= self.loads(day) - (self.limits.trucks_a_delivery or 0))
            above.append(over)
        return sum(above)

    def below_minimum(self) -> Any:
        """Cents that deliveries are short of the minimum order."""
        least = cents_of(self.limits.minimum_order or NOTHING)
        short = []
        for day in self.days:
            missing = self.model.new_int_var(0, least, f"short {day}")
            self.model.add(missing >= least - self.goods(day)).only_enforce_if(self.used[day])
            short.append(missing)
        return sum(short)
