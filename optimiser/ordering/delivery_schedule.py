"""The days on which packs arrive: each aim as good as it can be without harming those before.

1. least board above `site_storage_m2`, 2. fewest truckloads above `trucks_a_delivery`, 3. least short of
`minimum_order`, 4. least money in one sum, where price breaks, a load's cost or storage's cost make it a matter of
money, 5. fewest loads, where that is chosen, 6. the latest arrival: fewest board-area days on site.

CP-SAT (OR-Tools) solves one program an aim in one thread with a fixed seed and a limit that counts its steps, not
seconds, so equal orders give equal schedules. Its bound on the sum of money is proved for every schedule that keeps
the limits as nearly.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import floor as round_down
from math import gcd
from typing import TYPE_CHECKING, Any, Literal

from optimiser.model.money import NOTHING, cents_of
from optimiser.model.project import DeliveryLimits, Project
from optimiser.ordering.delivery_days import Unit
from optimiser.ordering.delivery_groups import grouped_arrivals
from optimiser.ordering.site_floor import SiteFloor

if TYPE_CHECKING:
    from optimiser.ordering.delivery_program import Program

MOST_STEPS = 8.0  # CP-SAT's deterministic time for each aim, about as many seconds
LARGEST = 2**60  # of what the program adds up, in its own units
_EXACT = 2**53  # whole numbers below are exact as binary floats, in which the solver reports its bound

Limit = Literal["storage", "trucks", "minimum"]


@dataclass(frozen=True)
class Solved:
    """Each unit's day, whether every aim was proved, and what no schedule's sum can go below, in cents.

    `bound_cents` is None where money is no aim.
    """

    arrives: tuple[date, ...]
    proved: bool
    bound_cents: Fraction | None


@dataclass(frozen=True)
class _Sum:
    """The sum of money as the program minimises it: (aim + constant) / scale is in cents."""

    aim: Any
    scale: int
    constant_cents: Fraction


def money_matters(project: Project, limits: DeliveryLimits) -> bool:
    """Whether the days of deliveries change what is paid."""
    return bool(project.price_breaks) or _priced(limits)


def _priced(limits: DeliveryLimits) -> bool:
    return limits.delivery_cost is not None or limits.storage_cost is not None


def storage_cents(limits: DeliveryLimits, floor: SiteFloor, area_nights: int) -> Fraction:
    """What an area for so many nights (mm2 / parts x nights) costs: a rate for a m2 and week of seven nights."""
    return Fraction(cents_of(limits.storage_cost or NOTHING) * area_nights, 7 * 10**6 * floor.parts)


class Schedule:
    """The units of one order, the days on which they may arrive, and the floor that they stand on."""

    def __init__(
        self, project: Project, limits: DeliveryLimits, units: tuple[Unit, ...], floor: SiteFloor
    ) -> None:
        self.project = project
        self.limits = limits
        self.units = units
        self.floor = floor
        self.areas = tuple(floor.of_lines(unit.lines) for unit in units)

    def standing(self, arrives: Sequence[date], day: date) -> int:
        """What stands on site that day with these arrivals, in the floor's mm2 / parts."""
        there = sum(
            self.floor.of_lines(unit.lines) for unit, at in zip(self.units, arrives, strict=True) if at <= day
        )
        return there - self.floor.cut_before(day) + self.floor.waiting(day)

    def area_nights(self, arrives: Sequence[date]) -> int:
        """Area times nights of all that stands on site, in the floor's mm2 / parts.

        Never less than none: where dates run against the delivery order, boards are cut before they come.
        """
        end = self.floor.last_day
        brought = sum(area * (end - at).days for area, at in zip(self.areas, arrives, strict=True))
        return max(0, brought + self.floor.nights_of_the_rest())

    def solve(self, seed: int) -> Solved:
        """The best schedule. Raises ValueError for sums of money that no building costs."""
        from ortools.sat.python import cp_model

        program = self._program()
        proved, bound = True, None
        arrives = grouped_arrivals(self.project, self.limits, self.units, self.floor)
        solver = self._solver(seed)
        for aim in self._aims(program):
            money = aim if isinstance(aim, _Sum) else None
            minimised = money.aim if money else aim
            program.model.minimize(minimised)
            program.start_from(arrives, solver)
            status = solver.solve(program.model)
            found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
            if not found and status != cp_model.UNKNOWN:
                raise RuntimeError(
                    "the delivery schedule found no way to bring the packs: a fault of this tool"
                )
            proved = proved and status == cp_model.OPTIMAL
            if money:
                lowest = _surely_below(solver.best_objective_bound)
                if status == cp_model.OPTIMAL:
                    lowest = int(solver.value(minimised))
                bound = max(Fraction(0), Fraction(lowest, money.scale) + money.constant_cents)
            if found:
                arrives = self._arrivals(program, solver)
                program.model.add(minimised <= int(solver.value(minimised)))
        return Solved(arrives, proved, bound)

    def keeps(self, limits: Collection[Limit], seed: int) -> bool:
        """Whether some schedule is found that keeps all of these limits."""
        from ortools.sat.python import cp_model

        program = self._program()
        self._keep(program, limits)
        return self._solver(seed).solve(program.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)

    def least_above_storage(self) -> int:
        """No schedule has less area above the storage, added over the days of arrival, than this.

        It is what stands when everything comes on its last day: what comes earlier only stands longer. Other limits
        may ask for more.
        """
        most = (self.limits.site_storage_m2 or 0) * 10**6 * self.floor.parts
        latest = tuple(unit.slots[-1] for unit in self.units)
        return sum(max(0, self.standing(latest, day) - most) for day in set(latest))

    def least_storage(self, kept: Collection[Limit], seed: int) -> int | None:
        """The least storage, in the floor's mm2 / parts, that a schedule needs which keeps other limits."""
        program = self._program()
        self._keep(program, kept)
        peak = program.model.new_int_var(0, max(map(program.most_standing, program.days)), "peak")
        for day in program.days:
            program.model.add(peak >= program.standing(day))
        return self._least(program, peak, seed)

    def least_trucks(self, kept: Collection[Limit], seed: int) -> int | None:
        """The fewest truckloads a day with which a schedule brings all packs and keeps other limits."""
        program = self._program()
        self._keep(program, kept)
        most = program.model.new_int_var(0, program.most_loads(), "most loads")
        for day in program.days:
            program.model.add(most >= program.loads(day))
        return self._least(program, most, seed)

    def _program(self) -> Program:
        from optimiser.ordering.delivery_program import Program

        return Program(self.project, self.limits, self.units, self.floor)

    def _solver(self, seed: int) -> Any:
        from ortools.sat.python import cp_model

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_deterministic_time = MOST_STEPS
        solver.parameters.linearization_level = 2  # its bound on sums of money is far better for it
        return solver

    def _keep(self, program: Program, limits: Collection[Limit]) -> None:
        for limit in self._given():
            if limit in limits:
                program.model.add(_beyond(program, limit) == 0)

    def _least(self, program: Program, aim: Any, seed: int) -> int | None:
        from ortools.sat.python import cp_model

        program.model.minimize(aim)
        solver = self._solver(seed)
        found = solver.solve(program.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        return round(solver.objective_value) if found else None

    def _given(self) -> Iterator[Limit]:
        """The limits that are given, in the order in which they count."""
        if self.limits.site_storage_m2 is not None:
            yield "storage"
        if self.limits.trucks_a_delivery is not None:
            yield "trucks"
        if self.limits.minimum_order:
            yield "minimum"

    def _aims(self, program: Program) -> Iterator[Any]:
        """What is minimised, one after the other."""
        for limit in self._given():
            yield _beyond(program, limit)
        if money_matters(self.project, self.limits):
            yield self._sum(program)
        if self.limits.combine == "fewest_loads":
            yield sum(program.loads(day) for day in program.days)
        yield sum(
            (area // self.floor.parts // 1000 + 1) * (unit.slots[-1] - day).days * program.x[u, day]
            for u, (unit, area) in enumerate(zip(self.units, self.areas, strict=True))
            for day in unit.slots
        )

    def _sum(self, program: Program) -> _Sum:
        """Goods, loads and storage in one sum of whole numbers, its scale as small as it can be."""
        goods = sum(program.goods(day) for day in program.days)
        if not _priced(self.limits):
            return _Sum(goods, 1, Fraction(0))
        cents = cents_of(self.limits.storage_cost or NOTHING)
        evenly = 7 * 10**6 * self.floor.parts
        shared = gcd(evenly, *(cents * area for area in self.areas))
        scale = evenly // shared
        end = self.floor.last_day
        nights = [
            (cents * area // shared) * (end - day).days * program.x[u, day]
            for u, (unit, area) in enumerate(zip(self.units, self.areas, strict=True))
            for day in unit.slots
        ]
        each = cents_of(self.limits.delivery_cost or NOTHING)
        longest = (end - program.days[0]).days
        paid = sum(line.packs * cents_of(line.price) for unit in self.units for line in unit.lines)
        most = scale * (paid + each * program.most_loads() * len(program.days))
        if most + sum(self.areas) * cents * longest // shared > LARGEST:
            raise ValueError(
                "the costs of deliveries add up to what no building costs: check delivery_cost and storage_cost"
            )
        loads = sum(program.loads(day) for day in program.days)
        rest = storage_cents(self.limits, self.floor, self.floor.nights_of_the_rest())
        return _Sum(scale * goods + scale * each * loads + sum(nights), scale, rest)

    def _arrivals(self, program: Program, solver: Any) -> tuple[date, ...]:
        return tuple(
            next(day for day in unit.slots if solver.value(program.x[u, day]))
            for u, unit in enumerate(self.units)
        )


def _beyond(program: Program, limit: Limit) -> Any:
    """How far a limit is left, added over all days."""
    if limit == "storage":
        return program.above_storage()
    return program.too_many_trucks() if limit == "trucks" else program.below_minimum()


def _surely_below(bound: float) -> int:
    """A whole number that is no higher than the bound, whatever the rounding of its binary float."""
    if bound < -LARGEST:
        return -LARGEST
    slack = 0 if abs(bound) < _EXACT else int(abs(bound) * 2**-50) + 1
    return round_down(bound + 1e-6) - slack
