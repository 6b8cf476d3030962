"""Which packs arrive together: an order's lines in deliveries that keep the site's and the supplier's limits.

Every line of the order arrives on one day, never after its level needs it. Days that matter are the latest
working day (or crane day) at which each level can still be served: whatever arrives between two of them could
as well arrive at the later one. A schedule that cannot keep a limit keeps it as nearly as possible and says
where, and by how much. Aims, each as good as it can be without harming those before it:

1. least board above `site_storage_m2`, 2. least short of `minimum_order`, 3. least money, where price breaks
reward large deliveries, 4. fewest truckloads, where a truck's size is given, 5. the latest arrival:
fewest board-area days on site. Packs of a product arrive in the order in which they are needed.

Without a truck's size a delivery has no cost that is known here, so nothing is brought forward unless a limit
or a price asks for it. Each aim is an integer program solved by CP-SAT (OR-Tools) in one thread with a fixed
seed and a limit that counts its steps, not seconds, so equal orders give equal schedules.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from optimiser.cutting.problem import Layout
from optimiser.ordering import first_order_day, money_of
from optimiser.plan import Delivery, Order, OrderLine, PlannedPiece, UsableLeftOver
from optimiser.project import KINDS, DeliveryLimits, Project, money_text
from optimiser.site_storage import CutOnSite, UseDays
from optimiser.working_days import WorkingDays

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

MOST_STEPS = 4.0  # CP-SAT's deterministic time for each aim, about as many seconds


@dataclass(frozen=True)
class Batched:
    """An order with its lines on the days of their deliveries, the deliveries, and what could not be kept."""

    order: Order
    deliveries: tuple[Delivery, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class _Unit:
    """Lines that arrive together: a product of a level, or all that a level needs but boards."""

    lines: tuple[OrderLine, ...]
    slots: tuple[date, ...]  # the days on which it may arrive, earliest first


def batch(
    project: Project,
    order: Order,
    pieces: Sequence[PlannedPiece],
    layouts: Sequence[Layout],
    usable: Sequence[UsableLeftOver],
    calendar: WorkingDays,
    seed: int = 0,
) -> Batched | None:
    """The order in deliveries that keep the project's limits, or None when it gives none.

    When a level of the order has no day, nothing can be scheduled: the order is as it was, with a warning.
    Raises ValueError for a sum of money that no building costs.
    """
    limits = project.delivery_limits
    if limits is None or not order.lines:
        return None
    undated = sorted({line.level for line in order.lines if line.deliver_on is None})
    if undated:
        return Batched(
            order,
            (),
            (
                f"Delivery limits are given, but {', '.join(undated)} {'has' if len(undated) == 1 else 'have'} no"
                " needed_on date, so deliveries are not put together: give every level its day.",
            ),
        )
    units, off_crane = _units(project, limits, order)
    on_site = CutOnSite.of(project, pieces, layouts, usable)
    schedule = _Schedule(project, limits, units, on_site, UseDays.of(project, order))
    arrives, proved = schedule.solve(seed)
    dated = _on_their_days(project, order, units, arrives, calendar)
    deliveries = _deliveries(project, limits, dated)
    warnings = [
        *_off_crane(project, off_crane),
        *_too_much_on_site(project, limits, schedule, arrives),
        *_too_small(project, limits, deliveries),
    ]
    if not proved:
        warnings.append(
            "Deliveries: the schedule keeps the limits as said, but was not proved the best in the steps allowed."
        )
    return Batched(dated, deliveries, tuple(warnings))


def price_of(project: Project, code: str, packs: int) -> int:
    """The price of a pack, in cents, where a delivery brings so many packs of a product."""
    price = project.product(code).price_cents
    for row in sorted(project.price_breaks, key=lambda row: row.from_packs):
        if row.code == code and packs >= row.from_packs:
            price = row.price_cents
    return price


def pallets_of(project: Project, packs: Mapping[str, int]) -> int:
    """How many pallets the boards among `packs` take: each product on pallets of its own."""
    limits = project.delivery_limits
    holds = (limits.pallet_packs if limits else None) or 1
    boards = {product.code for product in project.products_of("board")}
    return sum(-(-number // holds) for code, number in packs.items() if code in boards)


def products_apart(project: Project) -> frozenset[str]:
    """Products that are scheduled by themselves: boards, and what has price breaks; the rest comes together."""
    return frozenset(
        [product.code for product in project.products_of("board")]
        + [row.code for row in project.price_breaks]
    )


def _units(
    project: Project, limits: DeliveryLimits, order: Order
) -> tuple[tuple[_Unit, ...], tuple[str, ...]]:
    """The lines that bring packs, as units with their days; and the levels that no crane day can serve."""
    own = products_apart(project)
    level_of = {level.level: level for level in project.levels}
    together: dict[tuple[str, str], list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs:
            together[line.level, line.code if line.code in own else ""].append(line)
    latest: dict[str, date] = {}
    off_crane = []
    for level_name, _ in together:
        level = level_of[level_name]
        if level_name in latest or level.needed_on is None:
            continue
        on_crane = [day for day in limits.crane_days if day <= level.needed_on]
        due = next(line.deliver_on for line in order.lines if line.level == level_name)
        if on_crane:
            latest[level_name] = max(on_crane)
        elif due is not None:
            latest[level_name] = due
            if limits.crane_days:
                off_crane.append(level_name)
    days = sorted({day for level, day in latest.items() if level not in off_crane})
    units = []
    for (level_name, _), lines in together.items():
        last = latest[level_name]
        slots = (last,) if level_name in off_crane else tuple(day for day in days if day <= last)
        units.append(_Unit(tuple(lines), slots))
    return tuple(units), tuple(off_crane)


class _Schedule:
    """The days as an integer program: x[unit, day] is 1 where the unit arrives that day."""

    def __init__(
        self,
        project: Project,
        limits: DeliveryLimits,
        units: tuple[_Unit, ...],
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

    def area(self, unit: _Unit) -> int:
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


def _on_their_days(
    project: Project,
    order: Order,
    units: Sequence[_Unit],
    arrives: Sequence[date],
    calendar: WorkingDays,
) -> Order:
    """The order with each line on its delivery's day, ordered in time, at the price for that day's packs."""
    day_of = {
        (line.level, line.code): day for unit, day in zip(units, arrives, strict=True) for line in unit.lines
    }
    packs: dict[tuple[date, str], int] = defaultdict(int)
    for line in order.lines:
        if line.packs:
            packs[day_of[line.level, line.code], line.code] += line.packs
    lines = []
    for line in order.lines:
        if line.packs:
            day = day_of[line.level, line.code]
            price = price_of(project, line.code, packs[day, line.code])
            line = line.model_copy(
                update={
                    "deliver_on": day,
                    "order_by": calendar.before(day, project.product(line.code).lead_days),
                    "price": price,
                    "amount": line.packs * price,
                }
            )
        lines.append(line)
    total = money_of(sum(line.amount for line in lines))
    return Order(lines=tuple(lines), total=total, currency=order.currency)


def _deliveries(project: Project, limits: DeliveryLimits, order: Order) -> tuple[Delivery, ...]:
    """What arrives on each day, in order of time."""
    by_day: dict[date, list[OrderLine]] = defaultdict(list)
    for line in order.lines:
        if line.packs and line.deliver_on is not None:
            by_day[line.deliver_on].append(line)
    in_trade_order = [
        product.code for product in sorted(project.products, key=lambda product: KINDS.index(product.kind))
    ]
    found = []
    for day, lines in sorted(by_day.items()):
        here = {line.level for line in lines}
        levels = [level for level in project.levels_in_order() if level.level in here]
        packs: dict[str, int] = {}
        for line in lines:
            packs[line.code] = packs.get(line.code, 0) + line.packs
        pallets = pallets_of(project, packs)
        found.append(
            Delivery(
                level=levels[0].level,
                sequence=levels[0].sequence,
                deliver_on=day,
                order_by=first_order_day(lines),
                packs={code: packs[code] for code in in_trade_order if code in packs},
                amount=money_of(sum(line.amount for line in lines)),
                levels=tuple(level.level for level in levels),
                trucks=max(1, -(-pallets // limits.truck_pallets)) if limits.truck_pallets else None,
                pallets=pallets,
            )
        )
    return tuple(found)


def _off_crane(project: Project, levels: Sequence[str]) -> Iterable[str]:
    limits = project.delivery_limits
    first = min(limits.crane_days) if limits and limits.crane_days else None
    for level in project.levels_in_order():
        if level.level in levels and first is not None and level.needed_on is not None:
            yield (
                f"Deliveries: level {level.level} is needed on {level.needed_on}, and the first crane day,"
                f" {first}, is {(first - level.needed_on).days} days later: it is delivered without a crane day."
            )


def _too_much_on_site(
    project: Project, limits: DeliveryLimits, schedule: _Schedule, arrives: Sequence[date]
) -> Iterable[str]:
    if limits.site_storage_m2 is None:
        return
    for day in sorted(set(arrives)):
        standing = schedule.standing(arrives, day)
        over = standing - limits.site_storage_m2 * 10**6
        if over > 0:
            here = {
                line.level
                for unit, at in zip(schedule.units, arrives, strict=True)
                if at == day
                for line in unit.lines
            }
            levels = [level.level for level in project.levels_in_order() if level.level in here]
            yield (
                f"Deliveries: on {day}, with the delivery for {', '.join(levels)}, {_m2(standing)} m2 of board"
                f" stand on site, {_m2(over)} m2 more than its storage of {limits.site_storage_m2} m2."
            )


def _too_small(project: Project, limits: DeliveryLimits, deliveries: Sequence[Delivery]) -> Iterable[str]:
    least = limits.minimum_order_cents or 0
    for delivery in deliveries:
        if delivery.amount < least:
            currency = project.project.currency
            yield (
                f"Deliveries: that of {delivery.deliver_on} for {', '.join(delivery.levels)} comes to {currency}"
                f" {money_text(delivery.amount)}, {currency} {money_text(least - delivery.amount)} below the"
                f" minimum order of {currency} {money_text(least)}."
            )


def _m2(area_mm2: int) -> str:
    """Square metres to one place, rounded up, so that what is above a limit never shows as 0.0."""
    tenths = -(-area_mm2 // 100_000)
    return f"{tenths // 10}.{tenths % 10}"
