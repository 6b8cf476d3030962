"""What must be ordered on top of an order that is placed, and which of its packs must come earlier.

What is bought stays bought and serves first, product by product. As much is asked for as the whole building takes
now, with the allowance for breakage and loss on what is still to be cut or fitted at measured levels. What the placed
order lacks in all is ordered for the level that first runs short; where only its packs come too late, later levels'
packs are brought forward.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from optimiser.boards.forecast_levels import forecast_levels
from optimiser.boards.paid_packs import flat_fractions
from optimiser.model.money import NOTHING, believable, cents_of, from_cents, total_of
from optimiser.model.needs import LevelNeeds
from optimiser.model.order import Order, OrderLine
from optimiser.model.plan import Plan
from optimiser.model.planned_boards import PlannedPattern
from optimiser.model.planned_pieces import PlannedPiece
from optimiser.model.project import KINDS, Level, Product, Project
from optimiser.model.refit import BroughtForward
from optimiser.ordering.bought_boards import bought_by_level
from optimiser.ordering.price_breaks import price_of
from optimiser.ordering.working_days import WorkingDays, working_days_of
from optimiser.simulation.forecast import is_simulated
from optimiser.takeoff.quantities import unit_of


@dataclass(frozen=True)
class SupplementaryOrder:
    """The lines to order on top, the single units that they bring, and packs to bring forward."""

    order: Order
    units: Counter[str]
    brought_forward: tuple[BroughtForward, ...]


def units_bought(plan: Plan) -> Counter[str]:
    """Single boards, brackets, anchors and rolls that the plan's order brings, by product code."""
    found: Counter[str] = Counter()
    for line in plan.order.lines:
        found[line.code] += line.packs * line.per_pack
    return found


def boards_cut_by_level(plan: Plan, survey: Project, cut: Sequence[PlannedPattern]) -> LevelNeeds:
    """Boards that are cut already, by level and code; a level that the survey has no more counts as its first."""
    found: dict[str, dict[str, int]] = {}
    for level, boards in bought_by_level(plan.project, plan.pieces, cut).items():
        here = found.setdefault(_level_in(survey, level), {})
        for code, number in boards.items():
            here[code] = here.get(code, 0) + number
    return LevelNeeds(found)


def new_boards_by_level(
    survey: Project, pieces: Sequence[PlannedPiece], recut: Iterable[PlannedPattern]
) -> LevelNeeds:
    """Boards, not left-overs, that the recut takes, by level and code."""
    codes = survey.building.boards
    return bought_by_level(survey, pieces, [layout for layout in recut if layout.stock in codes])


def supplementary_order(
    plan: Plan, survey: Project, used: LevelNeeds, in_all: LevelNeeds
) -> SupplementaryOrder:
    """What to order on top of the plan's order.

    `used` is what is cut or fitted already and `in_all` that and what is still to come, by level and product: given
    together, since a roll of tape that is begun on a fitted level serves the next. A line's `needed` are the units
    that the placed order is short of, allowance included; its own `allowance` is 0.
    Raises ValueError for a sum of money that no building costs.
    """
    calendar = working_days_of(survey.project.country)
    levels = survey.levels_in_order()
    lines: list[OrderLine] = []
    moved: list[BroughtForward] = []
    units: Counter[str] = Counter()
    for product in survey.building.in_trade_order:
        supply = _Supply(plan, survey, product)
        asked = supply.asked(used, in_all)
        lacking = max(0, asked[-1] - sum(supply.units))
        extra = -(-lacking // product.per_pack)
        short = lacking  # units that the extra packs stand for, told with their level's line
        so_far = 0
        for rank, level in enumerate(levels):
            so_far += supply.units[rank]
            packs = 0
            while so_far < asked[rank]:
                if extra:
                    extra, packs, so_far = extra - 1, packs + 1, so_far + product.per_pack
                else:
                    so_far += supply.bring_forward(rank)
            if packs:
                told = min(short, packs * product.per_pack)
                short -= told
                units[product.code] += packs * product.per_pack
                lines.append(_line(survey, product, level, told, packs, calendar))
        moved += supply.moves()
    in_order = survey.building.place_of_level
    lines.sort(key=lambda line: (in_order[line.level], KINDS.index(line.kind)))
    total = believable(total_of(line.amount for line in lines))
    order = Order(lines=tuple(lines), total=total, currency=survey.project.currency)
    return SupplementaryOrder(order, units, tuple(moved))


class _Supply:
    """One product's placed packs, level by level in delivery order."""

    def __init__(self, plan: Plan, survey: Project, product: Product) -> None:
        self.product = product
        rank = survey.building.place_of_level
        self.levels = list(rank)
        self.packs = [0] * len(self.levels)
        self.per_pack = product.per_pack
        for line in plan.order.lines:
            if line.code == product.code:
                self.packs[rank[_level_in(survey, line.level)]] += line.packs
                self.per_pack = line.per_pack
        self.unit = unit_of(product)
        self.fraction = flat_fractions(survey).get(product.code, Fraction(0))
        self.waiting = forecast_levels(survey) if is_simulated(survey) else frozenset[str]()
        self.moved: Counter[tuple[int, int]] = Counter()

    @property
    def units(self) -> list[int]:
        """Single units that come with each level."""
        return [packs * self.per_pack for packs in self.packs]

    def asked(self, used: LevelNeeds, in_all: LevelNeeds) -> list[int]:
        """Units asked for up to each level: all of them, and the allowance on those of measured levels that are not
        used yet."""
        found = []
        open_yet = so_far = 0
        for level in self.levels:
            here = in_all.of(level, self.product.code)
            so_far += here
            if level not in self.waiting:
                open_yet += here - used.of(level, self.product.code)
            found.append(ceil((so_far + open_yet * self.fraction) / self.unit))
        return found

    def bring_forward(self, to_rank: int) -> int:
        """Moves one pack of the next later level that has any; the units that it brings."""
        later = next(rank for rank in range(to_rank + 1, len(self.packs)) if self.packs[rank])
        self.packs[later] -= 1
        self.moved[later, to_rank] += 1
        return self.per_pack

    def moves(self) -> list[BroughtForward]:
        """The packs that were brought forward."""
        return [
            BroughtForward(
                code=self.product.code,
                packs=packs,
                from_level=self.levels[later],
                to_level=self.levels[earlier],
            )
            for (later, earlier), packs in sorted(self.moved.items())
        ]


def _level_in(survey: Project, level: str) -> str:
    return level if level in survey.building.levels else survey.levels_in_order()[0].level


def _line(
    survey: Project, product: Product, level: Level, missing: int, packs: int, calendar: WorkingDays
) -> OrderLine:
    deliver_on, order_by = calendar.delivery_and_order(level.needed_on, product.lead_days)
    price = price_of(survey, product.code, packs)
    return OrderLine(
        code=product.code,
        kind=product.kind,
        level=level.level,
        deliver_on=deliver_on,
        order_by=order_by,
        needed=missing,
        allowance=0,
        quantity=missing,
        per_pack=product.per_pack,
        packs=packs,
        pack_name=product.pack_name,
        price=price,
        amount=believable(packs * price),
        status="forecast" if level.level in forecast_levels(survey) else "firm",
    )


def order_with(
    placed: Order,
    more: Order,
    brought_forward: Iterable[BroughtForward],
    survey: Project,
    before: Project | None = None,
) -> Order:
    """The whole order as it stands with `more` on top of `placed` and packs brought forward.

    One line a product and level, in the survey's delivery order. Amounts add up, so a line may hold packs of two
    prices; a pack that is brought forward keeps its price. With the project `before`, which `placed` was ordered for,
    the lines of levels that are needed on another day now have their new days; and what is measured now is firm.
    """
    lines: dict[tuple[str, str], OrderLine] = {(line.level, line.code): line for line in placed.lines}
    dates = {level.level: level.needed_on for level in survey.levels}
    calendar = working_days_of(survey.project.country)
    for move in brought_forward:
        source = lines[move.from_level, move.code]
        whole_cents = cents_of(source.amount) * move.packs // source.packs if source.packs else 0
        moved = from_cents(whole_cents)
        lines[move.from_level, move.code] = _changed(source, -move.packs, -moved)
        target = lines.get((move.to_level, move.code))
        if target is None:
            lead = survey.product(move.code).lead_days
            deliver_on, order_by = calendar.delivery_and_order(dates[move.to_level], lead)
            target = source.model_copy(
                update={
                    "level": move.to_level,
                    "deliver_on": deliver_on,
                    "order_by": order_by,
                    "needed": 0,
                    "allowance": 0,
                    "quantity": 0,
                    "packs": 0,
                    "amount": NOTHING,
                }
            )
        lines[move.to_level, move.code] = _changed(target, move.packs, moved)
    for line in more.lines:
        there = lines.get((line.level, line.code))
        lines[line.level, line.code] = (
            line if there is None else _changed(there, line.packs, line.amount, line.needed)
        )
    if before is not None:
        old, forecast = {level.level: level.needed_on for level in before.levels}, forecast_levels(survey)
        own = {(line.level, line.code): line for line in more.lines}
        for place, line in lines.items():
            if line.level not in dates:
                continue
            update: dict[str, object] = {}
            if line.level in old and old[line.level] != dates[line.level]:
                lead = survey.product(line.code).lead_days if line.code in survey.building.products else 0
                days = calendar.delivery_and_order(dates[line.level], lead)
                if place in own:
                    days = own[place].deliver_on, own[place].order_by
                update = {"deliver_on": days[0], "order_by": days[1]}
            if line.status == "forecast" and line.level not in forecast:
                update |= {"status": "firm", "measure_by": None}
            lines[place] = line.model_copy(update=update)
    rank = survey.building.place_of_level
    kinds: Mapping[str, int] = {product.code: KINDS.index(product.kind) for product in survey.products}
    ordered = sorted(
        lines.values(), key=lambda line: (rank.get(line.level, -1), kinds.get(line.code, len(KINDS)))
    )
    total = believable(total_of(line.amount for line in ordered))
    return Order(lines=tuple(ordered), total=total, currency=placed.currency)


def _changed(line: OrderLine, packs: int, amount: Decimal, needed: int = 0) -> OrderLine:
    return line.model_copy(
        update={
            "packs": line.packs + packs,
            "amount": line.amount + amount,
            "needed": line.needed + needed,
            "quantity": line.quantity + needed,
        }
    )
