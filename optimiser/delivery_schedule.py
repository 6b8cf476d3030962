"""The days on which packs arrive, as an integer program: each aim as good as it can be without harming those before.

1. least board above `site_storage_m2`, 2. least short of `minimum_order`, 3. least money, where price breaks
reward large deliveries, 4. fewest truckloads, where a truck's size is given, 5. the latest arrival:
fewest board-area days on site. Packs of a product arrive in the order in which they are needed.

CP-SAT (OR-Tools) solves one program an aim in one thread with a fixed seed and a limit that counts its steps, not
seconds, so equal orders give equal schedules.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from optimiser.plan import OrderLine
from optimiser.project import DeliveryLimits, Project
from optimiser.site_storage import CutOnSite, UseDays

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_STEPS = 4.0  # CP-SAT's deterministic time for each aim, about as many seconds


@dataclass(frozen=True)
class Unit:
    """Lines that arrive together: a product of a level, or all that a level needs but boards."""

    lines: tuple[OrderLine, ...]
    slots: tuple[date, ...]  # the days on which it may arrive, earliest first


def products_apart(project: Project) -> frozenset[str]:
    """Products that are scheduled by themselves: boards, and what has price breaks; the rest comes together."""
    return frozenset(
        [product.code for product in project.products_of("board")]
        + [row.code for row in project.price_breaks]
    )


class Schedule:
    """The days as an integer program: x[unit, day] is 1 where the unit arrives that day."""

    def __init__(
        self,
        project: Project,
        limits: DeliveryLimits,
        units: tuple[Unit, ...],
        on_site: CutOnSite,
        use: UseDays,
    ) -> None:
        self.project = project
        self.limits = limits
        self.units = units
        self.on_site = on_site
        self.use = use
        self.face = {
            product.code: (product.length_mm or 0) * (product.width_mm or 0)
            for product in project.products_of("board")
        }
        self.own = products_apart(project)
        self.days = sorted({day for unit in units for day in unit.slots})

    def area(self, unit: Unit) -> int:
        """The face area in mm2 of all boards of a unit."""
        return sum(line.packs * line.per_pack * self.face.get(line.code, 0) for line in unit.lines)

    def cut_before(self, day: date) -> int:
        """The face area in mm2 of bought boards that are cut before a day."""
        done = self.use.before(day.toordinal())
        return sum(n * self.face[code] for (at, code), n in self.on_site.boards.items() if at in done)

    def waiting(self, day: date) -> int:
        """Pieces, left-overs and stock on site that day, in mm2."""
        moment = day.toordinal()
        return self.on_site.waiting_mm2(self.use.before(moment), self.use.until(moment))

    def standing(self, arrives: Sequence[date], day: date) -> int:
        """What stands on site that day with these arrivals, in mm2."""
        there = sum(self.area(unit) for unit, at in zip(self.units, arrives, strict=True) if at <= day)
        return there - self.cut_before(day) + self.waiting(day)

    def solve(self, seed: int) -> tuple[tuple[date, ...], bool]:
        """Each unit's day, and whether every aim was proved as good as it can be."""
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        x = {
            (u, day): model.new_bool_var(f"x{u} {day}")
            for u, unit in enumerate(self.units)
            for day in unit.slots
        }
        for u, unit in enumerate(self.units):
            model.add_exactly_one(x[u, day] for day in unit.slots)
        self._in_order_of_need(model, x)
        used = {day: model.new_bool_var(f"used {day}") for day in self.days}
        for (_, day), here in x.items():
            model.add_implication(here, used[day])
        for day, some in used.items():
            model.add_bool_or(
                [x[u, day] for u, unit in enumerate(self.units) if day in unit.slots]
            ).only_enforce_if(some)
        proved = True
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = MOST_STEPS
        for aim in self._aims(model, x, used):
            model.minimize(aim)
            status = solver.solve(model)
            if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
                raise RuntimeError(
                    "the delivery schedule found no way to bring the packs: a fault of this tool"
                )
            proved = proved and status == cp_model.OPTIMAL
            model.add(aim <= round(solver.objective_value))
            model.clear_hints()
            for variable in x.values():
                model.add_hint(variable, solver.value(variable))
        arrives = tuple(
            next(day for day in unit.slots if solver.value(x[u, day])) for u, unit in enumerate(self.units)
        )
        return arrives, proved

    def _in_order_of_need(self, model: cp_model.CpModel, x: Mapping[tuple[int, date], Any]) -> None:
        """Of two units of one product the one that is needed later does not arrive earlier: packs are alike."""
        alike: dict[tuple[str, ...], list[int]] = defaultdict(list)
        for u, unit in enumerate(self.units):
            board = unit.lines[0].code if len(unit.lines) == 1 else ""
            alike[(board,) if board in self.own else ("",)].append(u)
        for units in alike.values():
            units.sort(key=lambda u: self.units[u].slots[-1])
            for earlier, later in pairwise(units):
                for day in self.days[:-1]:
                    come = [
                        sum(x[u, at] for at in self.units[u].slots if at <= day) for u in (later, earlier)
                    ]
                    model.add(come[0] <= come[1])

    def _aims(
        self,
        model: cp_model.CpModel,
        x: Mapping[tuple[int, date], Any],
        used: Mapping[date, Any],
    ) -> list[Any]:
        """What is minimised, one after the other."""
        aims: list[Any] = []
        units = list(enumerate(self.units))
        if self.limits.site_storage_m2 is not None:
            above = []
            for day in self.days:
                most = sum(self.area(unit) for unit in self.units) + self.waiting(day)
                over = model.new_int_var(0, max(0, most), f"above {day}")
                there = sum(self.area(unit) * x[u, at] for u, unit in units for at in unit.slots if at <= day)
                fixed = self.waiting(day) - self.cut_before(day) - self.limits.site_storage_m2 * 10**6
                model.add(over >= there + fixed)
                above.append(over)
            aims.append(sum(above))
        packs = self._packs(x)
        cost = {day: self._cost(model, x, packs, day) for day in self.days}
        if self.limits.minimum_order_cents:
            short = []
            for day in self.days:
                missing = model.new_int_var(0, self.limits.minimum_order_cents, f"short {day}")
                model.add(missing >= self.limits.minimum_order_cents - cost[day]).only_enforce_if(used[day])
                short.append(missing)
            aims.append(sum(short))
        if self.project.price_breaks:
            aims.append(sum(cost.values()))
        if self.limits.truck_pallets is not None:
            trucks = [self._trucks(model, packs, used, day) for day in self.days]
            aims.append(sum(trucks))
        early = [
            (self.area(unit) // 1000 + 1) * (unit.slots[-1] - day).days * x[u, day]
            for u, unit in units
            for day in unit.slots
        ]
        aims.append(sum(early))
        return aims

    def _packs(self, x: Mapping[tuple[int, date], Any]) -> dict[tuple[date, str], Any]:
        """Packs of each product that arrive each day."""
        found: dict[tuple[date, str], list[Any]] = defaultdict(list)
        for u, unit in enumerate(self.units):
            for line in unit.lines:
                for day in unit.slots:
                    found[day, line.code].append(line.packs * x[u, day])
        return {place: sum(terms) for place, terms in found.items()}

    def _cost(
        self,
        model: cp_model.CpModel,
        x: Mapping[tuple[int, date], Any],
        packs: Mapping[tuple[date, str], Any],
        day: date,
    ) -> Any:
        """A day's cents: of products with price breaks by the number that comes, of others by the line."""
        breaks: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for row in sorted(self.project.price_breaks, key=lambda row: row.from_packs):
            breaks[row.code].append((row.from_packs, row.price_cents))
        terms: list[Any] = [
            line.packs * line.price * x[u, day]
            for u, unit in enumerate(self.units)
            if day in unit.slots
            for line in unit.lines
            if line.code not in breaks
        ]
        for code, steps in breaks.items():
            if (day, code) not in packs:
                continue
            starts = [(0, self.project.product(code).price_cents), *steps]
            tiers = [model.new_bool_var(f"{code} {day} from {start}") for start, _ in starts]
            model.add_exactly_one(tiers)
            coming = [
                (line.packs, x[u, day])
                for u, unit in enumerate(self.units)
                if day in unit.slots
                for line in unit.lines
                if line.code == code
            ]
            most = sum(number for number, _ in coming)
            at_price: list[list[Any]] = [[] for _ in coming]
            ends = [start - 1 for start, _ in starts[1:]] + [most]
            for tier, (start, price), end in zip(tiers, starts, ends, strict=True):
                here = [model.new_bool_var("") for _ in coming]
                for (number, comes), bought, prices in zip(coming, here, at_price, strict=True):
                    model.add_implication(bought, tier)
                    model.add_implication(bought, comes)
                    prices.append(bought)
                    terms.append(price * number * bought)
                in_tier = sum(number * bought for (number, _), bought in zip(coming, here, strict=True))
                model.add(in_tier >= start * tier)
                model.add(in_tier <= end * tier)
            for (_, comes), prices in zip(coming, at_price, strict=True):
                model.add(sum(prices) == comes)
        return sum(terms)

    def _trucks(
        self,
        model: cp_model.CpModel,
        packs: Mapping[tuple[date, str], Any],
        used: Mapping[date, Any],
        day: date,
    ) -> Any:
        """Truckloads of a day: one at least, and as many as its pallets of boards take."""
        holds = self.limits.pallet_packs or 1
        pallets = []
        for code in self.face:
            if (day, code) in packs:
                most = sum(line.packs for unit in self.units for line in unit.lines if line.code == code)
                count = model.new_int_var(0, most, f"pallets {code} {day}")
                model.add(count * holds >= packs[day, code])
                pallets.append(count)
        most = sum(line.packs for unit in self.units for line in unit.lines)
        trucks = model.new_int_var(0, most, f"trucks {day}")
        model.add(trucks >= used[day])
        if pallets and self.limits.truck_pallets is not None:
            model.add(trucks * self.limits.truck_pallets >= sum(pallets))
        return trucks
